//! The sentences of a child's page, word for word: a table of situations, and worked examples from a reference.

use fairhearing::analysis;
use fairhearing::analysis::OutcomeOptions;
use fairhearing::analysis::Settling;
use fairhearing::analysis::Words;
use fairhearing::exchange;
use fairhearing::report::chart::Band;
use fairhearing::report::clinic;
use fairhearing::report::clinic::Heard;
use fairhearing::report::clinic::Told;

/// Three sessions before and four after; the numbers of each case are set by hand.
fn told(verdict: &'static str, means: [f64; 2], limits: [f64; 2], mdc95: f64) -> Told {
    Told {
        verdict,
        means: Some(means),
        limits: Some(limits),
        mdc95: Some(mdc95),
        of_the_child: true,
        sessions: [3, 4],
        smallest_change: 0.15,
        confidence: 0.95,
        settling: None,
        linking_error: None,
        why_no_limits: None,
    }
}

fn heard(sessions: &[(u32, &str, f64)]) -> Vec<Heard> {
    sessions
        .iter()
        .map(|(session, phase, share)| Heard {
            session: *session,
            phase: (*phase).to_owned(),
            share: *share,
            ci: Some([share - 0.1, share + 0.1]),
        })
        .collect()
}

#[track_caller]
fn check(told: &Told, headline: &str, sentence: &str) {
    assert_eq!(
        (clinic::headline(told), clinic::what_changed(told).as_str()),
        (headline, sentence)
    );
}

#[test]
fn a_clear_gain() {
    let gain = told("improved", [0.18, 0.61], [0.29, 0.56], 0.17);
    check(
        &gain,
        "Sounds better than before",
        "From 18% to 61% heard as correct; 43 points, between 29 and 56; more than the 17 points that chance, ears and \
         this child's good and bad days would give.",
    );
    assert_eq!(
        clinic::how_sure(&gain),
        "The two limits are made so that they hold the child's own change in 95% of cases. They allow for other words, \
         other listeners and other days: 3 sessions before and 4 after."
    );
    assert_eq!(clinic::what_would_settle_it(&gain), None);
    assert_eq!(clinic::little_room(&gain), None);
}

#[test]
fn a_small_gain_that_rounds_to_its_threshold() {
    check(
        &told("improved", [0.50, 0.604], [0.004, 0.21], 0.101),
        "Sounds better than before",
        "From 50% to 60% heard as correct; 10 points, between less than 1 and 21; just more than the 10 points that \
         chance, ears and this child's good and bad days would give. It is less than the 15 points that were set as the \
         smallest change that matters.",
    );
}

#[test]
fn no_change() {
    check(
        &told("no_relevant_change", [0.40, 0.41], [-0.06, 0.08], 0.08),
        "No change that matters",
        "From 40% to 41% heard as correct; 1 point, between 6 lower and 8 higher; less, either way, than the 15 points \
         that were set as the smallest change that matters.",
    );
    check(
        &told("no_relevant_change", [0.494, 0.496], [-0.10, 0.10], 0.12),
        "No change that matters",
        "From 49% to 50% heard as correct; less than half a point apart, between 10 lower and 10 higher; less, either \
         way, than the 15 points that were set as the smallest change that matters.",
    );
}

#[test]
fn worse() {
    check(
        &told("declined", [0.65, 0.40], [-0.37, -0.12], 0.14),
        "Sounds worse than before",
        "From 65% to 40% heard as correct; 25 points lower, between 12 and 37; more than the 14 points that chance, ears \
         and this child's good and bad days would give.",
    );
}

#[test]
fn too_few_tokens() {
    let unsure = Told {
        settling: Some(Settling {
            listeners: None,
            words: Some(9),
            sessions: Some(1),
        }),
        ..told("cannot_tell", [0.40, 0.52], [-0.03, 0.27], 0.14)
    };
    check(
        &unsure,
        "Cannot be told yet",
        "From 40% to 52% heard as correct; 12 points, between 3 lower and 27 higher; no more than the 14 points that \
         chance, ears and this child's good and bad days would give: it cannot be told yet.",
    );
    assert_eq!(
        clinic::what_would_settle_it(&unsure).unwrap(),
        "If the difference stays as it is: about 9 more words in every session, or 1 more session in each phase \
         (before, only recordings that are still unheard) might just settle it."
    );
    let hopeless = Told {
        settling: Some(Settling {
            listeners: None,
            words: None,
            sessions: None,
        }),
        ..told("cannot_tell", [0.40, 0.58], [0.0, 0.36], 0.17)
    };
    check(
        &hopeless,
        "Cannot be told yet",
        "From 40% to 58% heard as correct; 18 points, between no change and 36 higher; more than the 17 points that \
         are usual by chance, yet this child's limits still hold no change at all: it cannot be told yet.",
    );
    assert_eq!(
        clinic::what_would_settle_it(&hopeless).unwrap(),
        "If the difference stays as it is: listening to these recordings again will not settle it; watch the next \
         sessions."
    );
}

#[test]
fn rounds_that_were_joined() {
    let joined = Told {
        settling: Some(Settling {
            listeners: None,
            words: Some(9),
            sessions: None,
        }),
        linking_error: Some(0.03),
        ..told("cannot_tell", [0.40, 0.52], [-0.03, 0.27], 0.14)
    };
    assert_eq!(
        clinic::what_would_settle_it(&joined).unwrap(),
        "If the difference stays as it is: about 9 more words in every session might just settle it."
    );
    // Both 12 points and the 3 that are left to 15 are less than 1.96 times 7.
    let hidden = Told {
        settling: Some(Settling {
            listeners: None,
            words: None,
            sessions: None,
        }),
        linking_error: Some(0.07),
        ..joined
    };
    assert_eq!(
        clinic::what_would_settle_it(&hidden).unwrap(),
        "If the difference stays as it is: listening to these recordings again will not settle it; watch the next \
         sessions. Several rounds are joined here by the words that both panels heard, and the \
         error of that alone hides such a difference: more words heard in both rounds, or all these recordings in one new \
         round, would help."
    );
}

/// What would be known is a change where the difference matters, and that it does not matter where it is small.
#[test]
fn what_more_would_show() {
    let more = |means: [f64; 2], linking_error: f64| {
        let told = Told {
            settling: Some(Settling {
                listeners: None,
                words: None,
                sessions: Some(3),
            }),
            linking_error: Some(linking_error),
            ..told("cannot_tell", means, [-0.19, 0.15], 0.16)
        };
        clinic::what_would_settle_it(&told).unwrap()
    };
    assert_eq!(
        more([0.08, 0.06], 0.02),
        "If the difference stays as it is: about 3 more sessions in each phase (before, only recordings that are still \
         unheard) might just show that it is less than the 15 points that matter."
    );
    assert_eq!(
        more([0.18, 0.49], 0.02),
        "If the difference stays as it is: about 3 more sessions in each phase (before, only recordings that are still \
         unheard) might just show it."
    );
    // 1.96 times 6 points hide a difference of 2, and leave room to tell it from 15.
    assert!(more([0.08, 0.06], 0.06).ends_with("that matter."));
}

#[test]
fn one_word_or_one_listener() {
    let alone = Told {
        limits: None,
        mdc95: None,
        of_the_child: false,
        why_no_limits: Some("only one listener judged".to_owned()),
        ..told("cannot_tell", [0.40, 0.65], [0.0, 0.0], 0.0)
    };
    check(
        &alone,
        "Cannot be told yet",
        "From 40% to 65% heard as correct between these recordings; 25 points. How sure that is cannot be told: only one \
         listener judged.",
    );
    assert_eq!(
        clinic::what_would_settle_it(&alone).unwrap(),
        "Two words in each session, each judged by the same two listeners, would be a beginning."
    );
}

#[test]
fn a_ceiling_at_the_beginning() {
    let high = told("no_relevant_change", [0.90, 0.91], [-0.06, 0.08], 0.08);
    assert_eq!(
        clinic::little_room(&high).unwrap(),
        "Before, 90% were heard as correct already: a rise of the 15 points that matter has no room above that."
    );
}

#[test]
fn one_session_a_side() {
    let two_days = Told {
        of_the_child: false,
        sessions: [1, 2],
        ..told("improved", [0.40, 0.65], [0.12, 0.37], 0.11)
    };
    check(
        &two_days,
        "The later recordings sound better",
        "From 40% to 65% heard as correct between these recordings; 25 points, between 12 and 37; more than the 11 points \
         that chance and ears would give.",
    );
    assert_eq!(
        clinic::how_sure(&two_days),
        "The two limits are made so that they hold the difference between these recordings in 95% of cases, with other \
         words and other listeners. Good and bad days of the child are not in them: 1 session before and 2 after are too \
         few to know those."
    );
    for (sessions, said) in [
        (
            [1, 2],
            "To know of the child: 1 more session after, and 2 more from before, if recordings made then are still \
             unheard: a baseline cannot be made later.",
        ),
        (
            [1, 3],
            "To know of the child: 2 more sessions from before, if recordings made then are still unheard: a baseline \
             cannot be made later.",
        ),
        ([3, 1], "To know of the child: 2 more sessions after."),
    ] {
        let few = Told {
            sessions,
            ..two_days.clone()
        };
        assert_eq!(clinic::what_would_settle_it(&few).unwrap(), said);
    }
    let unsure = Told {
        of_the_child: false,
        ..told("cannot_tell", [0.40, 0.58], [0.0, 0.36], 0.17)
    };
    check(
        &unsure,
        "Cannot be told yet",
        "From 40% to 58% heard as correct between these recordings; 18 points, between no change and 36 higher; more than \
         the 17 points that are usual by chance, yet the limits of these recordings still hold no change at all: it cannot \
         be told yet.",
    );
}

#[test]
fn no_treatment_yet_and_maintenance_only() {
    let phases = ["baseline", "treatment"];
    for (sessions, said) in [
        (
            heard(&[
                (1, "baseline", 0.18),
                (2, "baseline", 0.12),
                (3, "baseline", 0.25),
            ]),
            "In baseline 12% to 25% were heard as correct over 3 sessions. No session of treatment has been heard yet, so \
             there is nothing to compare.",
        ),
        (
            heard(&[(4, "treatment", 0.5)]),
            "In treatment 50% were heard as correct in 1 session. No session of baseline was heard, so the starting \
             point is not known.",
        ),
        (
            heard(&[(9, "maintenance", 0.63), (10, "maintenance", 0.58)]),
            "In maintenance 58% to 63% were heard as correct over 2 sessions. Neither baseline nor treatment was heard, so \
             a change cannot be told.",
        ),
        (Vec::new(), "No session of this child has been judged yet."),
    ] {
        assert_eq!(clinic::without_comparison(&sessions, phases), said);
    }
}

#[test]
fn what_was_kept_and_where_peers_are() {
    let sessions = heard(&[(8, "treatment", 0.61), (9, "maintenance", 0.6)]);
    let phases = ["baseline", "treatment", "maintenance"];
    assert_eq!(
        clinic::maintenance(&sessions, &phases, "treatment").unwrap(),
        "In maintenance, session 9: 60% (50% to 70%). Whether a gain was kept is seen on the graph; it was not part of the \
         comparison that was sealed."
    );
    let followed = heard(&[
        (8, "treatment", 0.61),
        (9, "maintenance", 0.6),
        (10, "maintenance", 0.55),
        (12, "follow-up", 0.5),
    ]);
    let phases = ["baseline", "treatment", "maintenance", "follow-up"];
    assert_eq!(
        clinic::maintenance(&followed, &phases, "treatment").unwrap(),
        "In maintenance, session 9: 60% (50% to 70%); session 10: 55% (45% to 65%). In follow-up, session 12: 50% (40% to \
         60%). Whether a gain was kept is seen on the graph; it was not part of the comparison that was sealed."
    );
    assert_eq!(
        clinic::maintenance(&sessions[..1], &phases, "treatment"),
        None
    );
    let band = Band {
        low: 0.88,
        high: 0.97,
        label: String::new(),
    };
    assert_eq!(
        clinic::peers(2, "in the same round", &band, Some(0.61)),
        "2 peers of the same age with typical speech, heard in the same round: 88% to 97% heard as correct. This child's \
         later mean is 27 points below the lowest of these sessions: of 100 words, 27 fewer were heard as correct; children \
         differ widely."
    );
    assert_eq!(
        clinic::peers(1, "in the same rounds", &band, Some(0.9)),
        "One peer of the same age with typical speech, heard in the same rounds: 88% to 97% heard as correct. This child's \
         later mean is within the range of these sessions."
    );
    assert!(
        clinic::peers(1, "in the same round", &band, Some(0.99))
            .ends_with("This child's later mean is above the highest of these sessions.")
    );
    assert_eq!(clinic::age(74, 9), "6 years 2 months at session 9");
    assert_eq!(clinic::age(61, 1), "5 years 1 month at session 1");
}

/// A child of a data set, as the page tells her.
fn worked(ratings: &str, tokens: &str, child: &str) -> (String, String) {
    let ratings = exchange::read_ratings("ratings", ratings.as_bytes()).unwrap();
    let tokens = exchange::read_tokens("tokens", tokens.as_bytes()).unwrap();
    let found = analysis::outcome(&ratings, &tokens, None, &OutcomeOptions::default()).unwrap();
    let mut changes = found.changes.iter();
    let change = changes
        .find(|change| change.child == child && change.words == Words::All)
        .unwrap();
    let told = Told::of(change, 0.15, 0.95);
    (
        clinic::headline(&told).to_owned(),
        clinic::what_changed(&told),
    )
}

macro_rules! data {
    ($id:literal) => {
        (
            include_str!(concat!("../reference/data/", $id, "_ratings.csv")),
            include_str!(concat!("../reference/data/", $id, "_tokens.csv")),
        )
    };
}

/// Every number in these sentences stands in `tests/reference/expected/17_intervals.json` (a separate program, numpy and
/// scipy): limits and minimal detectable change as they are, means of a phase as means of its sessions there.
#[test]
fn worked_examples_of_the_reference_from_judgements_to_sentences() {
    let (complete, uneven) = (data!("interval_complete"), data!("interval_uneven"));
    let (two_days, ceiling) = (data!("interval_two_days"), data!("interval_ceiling"));
    for ((ratings, tokens), child, headline, sentence) in [
        // 0.1528, 0.6528; 0.5 in [0.2900, 0.6620]; 0.1794
        (
            complete,
            "C03",
            "Sounds better than before",
            "From 15% to 65% heard as correct; 50 points, between 29 and 66; more than the 18 points that chance, ears and \
             this child's good and bad days would give.",
        ),
        // 0.4653, 0.2708; −0.1944 in [−0.3619, −0.0117]; 0.1759
        (
            complete,
            "C01",
            "Sounds worse than before",
            "From 47% to 27% heard as correct; 19 points lower, counted before rounding, between 1 and 36; more than the \
             18 points that chance, ears and this child's good and bad days would give.",
        ),
        // 0.5772, 0.7042; 0.1270 in [−0.0743, 0.3162]; 0.1638
        (
            uneven,
            "C02",
            "Cannot be told yet",
            "From 58% to 70% heard as correct; 13 points, counted before rounding, between 7 lower and 32 higher; no more \
             than the 16 points that chance, ears and this child's good and bad days would give: it cannot be told yet.",
        ),
        // 0.3796, 0.7963; 0.4167 in [0.1397, 0.6366]; 0.2512
        (
            two_days,
            "C02",
            "The later recordings sound better",
            "From 38% to 80% heard as correct between these recordings; 42 points, between 14 and 64; more than the 25 \
             points that chance and ears would give.",
        ),
        // 0.9963 twice; 0 in ± 0.0435
        (
            ceiling,
            "C01",
            "No change that matters",
            "From 100% to 100% heard as correct; no difference, between 4 lower and 4 higher; less, either way, than the 15 \
             points that were set as the smallest change that matters.",
        ),
    ] {
        assert_eq!(
            worked(ratings, tokens, child),
            (headline.to_owned(), sentence.to_owned())
        );
    }
}
