//! What is published of a round: every count of flow, methods and results is one that the store's own rows give.

use std::collections::BTreeMap;

use fairhearing::analysis::Met;
use fairhearing::analysis::ReadAs;
use fairhearing::analysis::RoundFindings;
use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::report;
use fairhearing::store::PresentationRow;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement;
use fairhearing::study::KnownAnswer;
use fairhearing::study::PresentationId;
use fairhearing::study::PresentationKind;
use fairhearing::study::RoundName;
use rusqlite::Connection;

use crate::support::Listener;
use crate::support::Study;
use crate::support::findings;
use crate::support::heard_round;
use crate::support::record;

const RULES: &str = "rules = [{ rule = \"min-checks-right\", right = 8 }]\nlive_after_checks = 3";

/// A check is heard right or wrong as wanted; other words by their number.
fn known(study: &Study) -> BTreeMap<PresentationId, Option<KnownAnswer>> {
    study
        .store()
        .read(|reading| {
            let tokens = reading.round_tokens(reading.rounds()?[0].id)?;
            let answer =
                |row: &PresentationRow| tokens.iter().find(|token| token.id == row.token)?.answer;
            let rows = reading.presentations()?;
            Ok::<_, StoreError>(rows.iter().map(|row| (row.id, answer(row))).collect())
        })
        .unwrap()
}

fn judge(study: &Study, listener: &mut Listener, right: bool) {
    let known = known(study);
    let mut n = 0;
    listener.judge_all(|word| {
        n += 1;
        match known[&word.id] {
            Some(answer) if (answer == KnownAnswer::Correct) == right => Judgement::Correct,
            Some(_) => Judgement::Distorted,
            None if n % 3 == 0 => Judgement::Distorted,
            None => Judgement::Correct,
        }
    });
}

/// A round in which every kind of listener occurs: one who never opens her link, one who only opens it, one who only
/// agrees, one who stops in the middle, one who is let go, three who finish, of whom one withdraws, and an expert.
fn with_every_kind() -> (Study, RoundFindings) {
    let study = Study::with()
        .words(5)
        .checks(10)
        .practice(0)
        .warm_ups(0)
        .repeats(0.1)
        .screening(RULES.to_owned())
        .listeners(8)
        .judgements(6)
        .sealed();
    let name = RoundName::new("spring").unwrap();
    let wanted = Invitation {
        listeners: 1,
        kind: Some("expert".parse().unwrap()),
        ..Invitation::default()
    };
    let invited = app::invite(&study.workspace, &name, &wanted, Now::read()).unwrap();
    let _opened = study.listener(1);
    let mut agreed = study.listener(2);
    let now = agreed.now();
    let adult = Some(app::listening::Assent::Adult);
    app::listening::agree(&study.workspace, &agreed.cookie, "1", adult, now).unwrap();
    let mut stops = study.listener(3);
    stops.begin();
    for _ in 0..6 {
        let word = stops.current().unwrap();
        stops.judge(word.id, Judgement::Correct);
    }
    let mut guesser = study.listener(4);
    guesser.begin();
    judge(&study, &mut guesser, false);
    guesser.finish();
    let mut receipt = String::new();
    for careful in [5, 6, 7] {
        let mut listener = study.listener(careful);
        listener.begin();
        judge(&study, &mut listener, true);
        receipt = listener.finish();
    }
    let mut expert = Listener::open(&study.workspace, &invited.links[0]);
    expert.begin();
    judge(&study, &mut expert, true);
    expert.finish();
    let withdrawn = app::withdraw_listener(&study.workspace, &receipt, Now::read()).unwrap();
    assert!(
        matches!(withdrawn, app::Withdrawal::Done { .. }),
        "{withdrawn:?}"
    );
    app::close(&study.workspace, &name, Now::read()).unwrap();
    app::unlock(&study.workspace, &name, Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap().round;
    (study, found)
}

#[track_caller]
fn count(rows: &Connection, sql: &str) -> usize {
    let n: i64 = rows.query_row(sql, [], |row| row.get(0)).unwrap();
    usize::try_from(n).unwrap()
}

/// Judgements of a kind, by the panel's listeners who did not withdraw, that have an answer.
fn judged(rows: &Connection, kind: &str) -> usize {
    count(
        rows,
        &format!(
            "SELECT count(*) FROM presentation AS p
             JOIN sitting AS s ON s.id = p.sitting_id
             JOIN enrolment AS e ON e.id = s.enrolment_id
             JOIN listener AS l ON l.id = e.listener_id
             WHERE p.state = 'judged' AND p.kind = '{kind}' AND l.kind = 'naive' AND l.withdrawn_ms IS NULL"
        ),
    )
}

#[test]
fn flow_methods_and_results_hold_the_counts_of_the_store() {
    let (study, found) = with_every_kind();
    let rows = Connection::open(study.database()).unwrap();
    let withdrew = "l.withdrawn_ms IS NOT NULL";
    let listeners = |of: &str| {
        count(
            &rows,
            &format!(
                "SELECT count(*) FROM enrolment AS e JOIN listener AS l ON l.id = e.listener_id WHERE {of}"
            ),
        )
    };
    let heard = "EXISTS (SELECT 1 FROM sitting AS s JOIN presentation AS p ON p.sitting_id = s.id
                 WHERE s.enrolment_id = e.id AND p.state IN ('judged', 'aside'))";
    let beyond = "EXISTS (SELECT 1 FROM sitting AS s JOIN presentation AS p ON p.sitting_id = s.id
                  WHERE s.enrolment_id = e.id AND p.state IN ('judged', 'aside') AND p.kind <> 'practice')";
    for (step, of) in [
        ("invited", "1".to_owned()),
        ("opened", format!("e.opened_ms IS NOT NULL OR {withdrew}")),
        (
            "agreed",
            format!("e.consented_ms IS NOT NULL OR {withdrew}"),
        ),
        ("began", format!("{heard} OR {withdrew}")),
        ("qualified", format!("{beyond} OR {withdrew}")),
        (
            "finished",
            format!("e.finished_ms IS NOT NULL OR {withdrew}"),
        ),
        ("let_go", "e.let_go_ms IS NOT NULL".to_owned()),
        ("withdrew", withdrew.to_owned()),
        ("reference", format!("l.kind = 'expert' AND {heard}")),
    ] {
        assert_eq!(found.flow[step], listeners(&of), "{step}");
    }
    // By how the round was made: nine links; the one who stops and the one who guesses are left out, two are left.
    let flow = [
        "invited",
        "opened",
        "agreed",
        "began",
        "left_out",
        "analysed",
        "reference",
    ];
    assert_eq!(flow.map(|step| found.flow[step]), [9, 8, 7, 6, 2, 2, 1]);
    let left_out: usize = found.left_out.iter().map(|one| one.listeners).sum();
    assert_eq!((found.left_out.len(), left_out), (1, 2));
    let text = report::manuscript(&found);
    let (main, checks) = (judged(&rows, "main"), judged(&rows, "check"));
    let kept: Vec<String> = found
        .listeners
        .listeners
        .iter()
        .filter(|row| row.kept)
        .map(|row| format!("'{}'", row.rater))
        .collect();
    let of_kept = count(
        &rows,
        &format!(
            "SELECT count(*) FROM presentation AS p JOIN sitting AS s ON s.id = p.sitting_id
             JOIN enrolment AS e ON e.id = s.enrolment_id JOIN listener AS l ON l.id = e.listener_id
             WHERE p.state = 'judged' AND p.kind = 'main' AND l.code IN ({})",
            kept.join(",")
        ),
    );
    let scored = count(&rows, "SELECT count(*) FROM token WHERE use = 'scored'");
    let sessions = count(&rows, "SELECT count(*) FROM session");
    for sentence in [
        format!("{scored} recordings of single words"),
        format!("from {sessions} sessions in all"),
        format!("{main} main judgements in all ({of_kept} of them by the 2 who were kept)"),
        format!(
            "with {checks} on check words and {} on words heard again",
            judged(&rows, "repeat")
        ),
        "9 invited, 8 opened the link, 7 agreed, 6 began to listen".to_owned(),
        "2 left out by the sealed rules, 2 analysed".to_owned(),
        "Two of the 2 listeners who were analysed agreed".to_owned(),
    ] {
        assert!(text.contains(&sentence), "{sentence}\n{text}");
    }
}

/// A child's mean of a phase over sessions of the words' shares of correct judgements, from the store's rows alone.
fn mean_of(rows: &Connection, listeners: &str, child: &str, phase: &str) -> f64 {
    rows.query_row(
        &format!(
            "SELECT avg(share) FROM (
               SELECT avg(share) AS share FROM (
                 SELECT session.id AS session, avg(j.answer = 'correct') AS share
                 FROM presentation AS p
                 JOIN sitting AS s ON s.id = p.sitting_id
                 JOIN enrolment AS e ON e.id = s.enrolment_id
                 JOIN listener AS l ON l.id = e.listener_id
                 JOIN round_token AS r ON r.id = p.round_token_id
                 JOIN token ON token.id = r.token_id
                 JOIN session ON session.id = token.session_id
                 JOIN child ON child.id = session.child_id
                 JOIN judgement AS j ON j.presentation_id = p.id
                   AND j.revision = (SELECT max(revision) FROM judgement WHERE presentation_id = p.id)
                 WHERE p.kind = 'main' AND p.state = 'judged' AND l.code IN ({listeners})
                   AND child.code = ?1 AND session.phase = ?2
                 GROUP BY session.id, token.id)
               GROUP BY session)"
        ),
        [child, phase],
        |row| row.get(0),
    )
    .unwrap()
}

#[test]
fn the_results_paragraph_gives_the_means_of_the_store_s_rows() {
    let (study, found) = with_every_kind();
    let rows = Connection::open(study.database()).unwrap();
    let kept: Vec<String> = found
        .listeners
        .listeners
        .iter()
        .filter(|row| row.kept)
        .map(|row| format!("'{}'", row.rater))
        .collect();
    let text = report::manuscript(&found);
    let phases = &study.with.labels.phases;
    for number in 0..2 {
        let child = study.with.child(number);
        let mean = |phase: &str| mean_of(&rows, &kept.join(","), &child, phase);
        let (before, after) = (mean(&phases[0]), mean(&phases[1]));
        let said = format!(
            "{:.1}% judged correct over 1 session of {}, {:.1}% over 1 session of {}",
            before * 100.0,
            phases[0],
            after * 100.0,
            phases[1],
        );
        let own = text.lines().find(|line| line.starts_with(&child)).unwrap();
        assert!(own.contains(&said), "{said}\n{own}");
    }
}

#[test]
fn an_expert_stands_beside_the_panel_and_in_none_of_its_figures() {
    let (study, found) = with_every_kind();
    let rows = Connection::open(study.database()).unwrap();
    let code: String = rows
        .query_row(
            "SELECT code FROM listener WHERE kind = 'expert'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert!(
        found
            .listeners
            .listeners
            .iter()
            .all(|row| row.rater != code)
    );
    let reference = found.reference.as_ref().unwrap();
    assert_eq!((reference.experts, reference.naive), (1, 2));
    let shared = count(
        &rows,
        "SELECT count(*) FROM (
           SELECT p.round_token_id FROM presentation AS p
           JOIN sitting AS s ON s.id = p.sitting_id JOIN enrolment AS e ON e.id = s.enrolment_id
           JOIN listener AS l ON l.id = e.listener_id
           WHERE p.kind = 'main' AND p.state = 'judged' AND l.kind = 'expert')",
    );
    assert_eq!(reference.shared_words, shared);
    let counted = reference.both_correct
        + reference.experts_only
        + reference.naive_only
        + reference.both_distorted;
    assert_eq!(counted + reference.naive_divided, shared);
    let page = report::page(&found).unwrap();
    assert!(page.contains("Naive listeners against experts"));
    let files = fairhearing::folder::report(&{
        let unlocked = app::unlocked(&study.workspace, &RoundName::new("spring").unwrap()).unwrap();
        app::findings(&study.workspace, &unlocked).unwrap()
    })
    .unwrap();
    let file = |name: &str| {
        let found = files.iter().find(|(file, _)| file == name);
        String::from_utf8(found.unwrap().1.clone()).unwrap()
    };
    assert!(file("reference_ratings.csv").contains(&code));
    assert!(!file("ratings.csv").contains(&code));
    assert!(file("data_dictionary.csv").contains("reference_ratings.csv,judgement"));
}

// Byrt, Bishop & Carlin (1993), J. Clin. Epidemiol. 46, 423-429, the table 80, 8, 4, 8: observed agreement .88, kappa .503,
// PABAK .76, specific agreement .930 and .571; AC1 .842 by Gwet's formula on the same table.
#[test]
fn a_printed_table_of_naive_listeners_against_experts_gives_its_printed_figures() {
    let mut record = record();
    record.plan.screening.rules.clear();
    record.listeners[8].kind = "expert".parse().unwrap();
    let expert = record.listeners[8].code.clone();
    let words: Vec<String> = record.tokens[..100]
        .iter()
        .map(|t| t.name.clone())
        .collect();
    let said = |both: [bool; 2]| {
        both.map(|correct| {
            if correct {
                Judgement::Correct
            } else {
                Judgement::Distorted
            }
        })
    };
    let mut heard = Vec::new();
    for (place, word) in words.iter().enumerate() {
        let [experts, naive] = said(match place {
            0..80 => [true, true],
            80..88 => [true, false],
            88..92 => [false, true],
            _ => [false, false],
        });
        for row in &mut record.presentations {
            if row.token == *word && row.kind == PresentationKind::Main {
                row.answer = Some(naive);
            }
        }
        let mut row = record.presentations[0].clone();
        row.token.clone_from(word);
        row.listener = expert.clone();
        row.answer = Some(experts);
        heard.push(row);
    }
    record.presentations.extend(heard);
    let found = findings(&record);
    let reference = found.reference.as_ref().unwrap();
    assert_eq!(
        (reference.naive, reference.experts, reference.shared_words),
        (8, 1, 100)
    );
    let text = report::manuscript(&found);
    assert!(
        text.contains("On 100 words that both heard, the majority of 8 naive listeners"),
        "{text}"
    );
    let mut divided = found.clone();
    let some = divided.reference.as_mut().unwrap();
    some.experts_divided = vec![record.tokens[0].name.clone()];
    some.naive_divided = 2;
    some.both_correct -= 3;
    let text = report::manuscript(&divided);
    let said = "On 97 of the 100 words that both heard (on 1 the experts were evenly divided, on 2 the naive listeners were \
                evenly divided), the majority of 8 naive listeners";
    assert!(text.contains(said), "{text}");
    let near = |found: Option<f64>, printed: f64| {
        assert!(
            (found.unwrap() - printed).abs() < 6e-4,
            "{found:?} {printed}"
        );
    };
    near(reference.sensitivity, 80.0 / 88.0);
    near(reference.specificity, 8.0 / 12.0);
    let pair = reference.majorities.as_ref().unwrap();
    near(pair.observed, 0.88);
    near(pair.estimate, 0.503);
    near(pair.pabak, 0.76);
    near(
        pair.specific_agreement.get("correct").copied().flatten(),
        0.930,
    );
    near(
        pair.specific_agreement.get("distorted").copied().flatten(),
        0.571,
    );
    near(reference.gwet_ac1, 0.842);
}

#[test]
fn the_design_is_held_against_the_published_numbers() {
    let found = findings(&record());
    let met = |child: Option<&str>, rule: &str| {
        let mut checks = found.design.iter();
        let check = checks.find(|one| one.child.as_deref() == child && one.rule == rule);
        check.unwrap().met
    };
    // What Works Clearinghouse 4.0: five points a phase, three with reservations. The round has 3 and 6, 4 and 5, 5 and 4, 2 and 2.
    let points = "Points in each phase";
    for (child, expected) in [
        ("C01", Met::WithReservations),
        ("C02", Met::WithReservations),
        ("C03", Met::WithReservations),
        ("C04", Met::DoesNotMeet),
    ] {
        assert_eq!(met(Some(child), points), expected, "{child}");
        assert_eq!(
            met(Some(child), "Agreement collected in each phase"),
            Met::Meets
        );
    }
    // Treatment begins with the third, fourth, fifth and sixth session, a week apart.
    assert_eq!(met(None, "Staggered starts"), Met::Meets);
    // The listeners of this round agree in .6 to .7 of cases, which is too little.
    assert_eq!(met(None, "Agreement in each phase"), Met::DoesNotMeet);
    let page = report::page(&found).unwrap();
    assert!(page.contains("is never a mark of the therapy"));
    assert!(page.contains("held against published rules: does not meet it (points in each phase: 2 in baseline, 2 in treatment)"));
}

#[test]
fn reporting_lists_say_what_the_data_say_and_leave_the_rest_blank() {
    let found = findings(&record());
    for (table, items) in [
        (report::tables::grras(&found), 15),
        (report::tables::scribe(&found), 26),
    ] {
        assert_eq!(table.rows.len(), items, "{}", table.name);
        let blank = table.rows.iter().filter(|row| row[2].exact[0].is_empty());
        assert!(
            blank
                .clone()
                .all(|row| row[2].shown.contains("for the authors"))
        );
        assert!(blank.count() < items);
    }
    let scribe = report::tables::scribe(&found);
    assert_eq!(scribe.rows[6][2].shown, "4 children with both phases.");
    assert!(scribe.rows[24][2].shown.contains(&found.round.seal));
}

/// Nothing that a reader must know stands on the page alone.
#[test]
fn the_manuscript_tells_of_deviations_of_readings_and_of_warnings() {
    let mut found = heard_round();
    let text = report::manuscript(&found);
    let (_, limits) = text.split_once("\nDeviations and limits\n").unwrap();
    let deviations = found.round.deviations.iter();
    let told = deviations
        .map(ToString::to_string)
        .chain(found.warnings.iter().map(|warning| warning.found.clone()))
        .collect::<Vec<_>>();
    assert!(told.len() > 2, "{told:?}");
    for one in told {
        assert!(limits.contains(&one), "{one}\n{limits}");
    }
    for reading in &mut found.sensitivity {
        if reading.child == "C01" && reading.reading == ReadAs::Majority {
            (reading.verdict, reading.differs) = (Some("declined"), true);
        }
    }
    let text = report::manuscript(&found);
    assert!(text.contains("A verdict hangs on how the judgements are read. C01, all words: “"));
    assert!(text.contains("for the majority on each word"));
    found.round.deviations.clear();
    let text = report::manuscript(&found);
    assert!(text.contains(
        "Nothing was done otherwise than planned, as far as the log up to the close tells."
    ));
}
