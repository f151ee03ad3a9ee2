//! A change read otherwise: each reading is what the same round gives where it was made so, and a verdict that hangs on one is told.

use std::collections::BTreeMap;

use fairhearing::analysis::Concern;
use fairhearing::analysis::ReadAs;
use fairhearing::analysis::ReadingFinding;
use fairhearing::analysis::RoundFindings;
use fairhearing::analysis::Words;
use fairhearing::study::ChosenLow;
use fairhearing::study::Judgement;
use fairhearing::study::PresentationKind;
use fairhearing::study::record::AnswerRecord;
use fairhearing::study::record::RoundRecord;

use crate::support::findings;
use crate::support::record;

#[track_caller]
fn read<'a>(found: &'a RoundFindings, child: &str, reading: ReadAs) -> &'a ReadingFinding {
    found
        .sensitivity
        .iter()
        .find(|one| one.child == child && one.words == Words::All && one.reading == reading)
        .unwrap_or_else(|| panic!("{child} has no {reading:?}"))
}

fn close(one: Option<f64>, other: f64) {
    assert!((one.unwrap() - other).abs() < 1e-12, "{one:?} {other}");
}

#[test]
fn the_sealed_reading_and_the_panels_are_those_of_the_outcome() {
    let found = findings(&record());
    let panels = found.outcome.panels.as_ref().unwrap();
    for (reading, changes) in [
        (ReadAs::Panel, &found.outcome.changes),
        (ReadAs::AllListeners, &panels.all.changes),
        (ReadAs::Weighted, &panels.weighted.as_ref().unwrap().changes),
    ] {
        for change in changes {
            let one = read(&found, &change.child, reading);
            assert_eq!((one.difference, one.ci), (change.difference, change.ci));
            assert_eq!(one.verdict, Some(change.verdict));
        }
    }
}

#[test]
fn first_plays_alone_are_the_round_without_what_was_played_again() {
    let again = |n: usize| n.is_multiple_of(3);
    let mut played = record();
    for (n, row) in played.presentations.iter_mut().enumerate() {
        row.replays = Some(u32::from(again(n)));
    }
    let mut once = record();
    let mut n = 0;
    once.presentations.retain(|row| {
        n += 1;
        row.kind != PresentationKind::Main || !again(n - 1)
    });
    let (found, without) = (findings(&played), findings(&once));
    for change in &without.outcome.changes {
        let one = read(&found, &change.child, ReadAs::FirstPlay);
        close(one.difference, change.difference.unwrap());
        assert_eq!(one.verdict, Some(change.verdict), "{}", change.child);
        let [low, high] = one.ci.unwrap();
        let [other_low, other_high] = change.ci.unwrap();
        assert!((low - other_low).abs() < 1e-9 && (high - other_high).abs() < 1e-9);
    }
}

/// The share of words that most of the panel call correct, a tie one half: counted from the record's own rows.
fn by_majority(record: &RoundRecord, found: &RoundFindings, child: &str, phase: &str) -> f64 {
    let kept = |code: &str| {
        let mut listeners = found.listeners.listeners.iter();
        listeners.any(|row| row.rater == code && row.kept)
    };
    let mut margins: BTreeMap<&str, i32> = BTreeMap::new();
    for row in &record.presentations {
        if row.kind == PresentationKind::Main && kept(row.listener.as_str()) {
            *margins.entry(&row.token).or_default() += if row.answer == Some(Judgement::Correct) {
                1
            } else {
                -1
            };
        }
    }
    let mut sessions: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for token in &record.tokens {
        let is = token
            .key
            .child
            .as_ref()
            .is_some_and(|c| c.as_str() == child)
            && token
                .key
                .phase
                .as_ref()
                .is_some_and(|p| p.as_str() == phase);
        if is {
            let said = f64::midpoint(f64::from(margins[token.name.as_str()].signum()), 1.0);
            sessions
                .entry(token.key.session.unwrap())
                .or_default()
                .push(said);
        }
    }
    let means: Vec<f64> = sessions
        .values()
        .map(|said| said.iter().sum::<f64>() / said.len() as f64)
        .collect();
    means.iter().sum::<f64>() / means.len() as f64
}

#[test]
fn the_majority_counts_each_word_once() {
    let record = record();
    let found = findings(&record);
    for child in ["C01", "C02", "C03", "C04"] {
        let of = |phase| by_majority(&record, &found, child, phase);
        let one = read(&found, child, ReadAs::Majority);
        close(one.difference, of("treatment") - of("baseline"));
    }
}

#[test]
fn missing_words_move_a_change_as_far_as_the_bounds_say() {
    let found = findings(&record());
    assert_eq!(found.completeness.bounds.len(), 3);
    for bound in &found.completeness.bounds {
        for (reading, expected) in [
            (ReadAs::MissingCorrect, bound.all_correct),
            (ReadAs::MissingDistorted, bound.all_distorted),
            (ReadAs::MissingAgainst, bound.lowest),
            (ReadAs::MissingFor, bound.highest),
        ] {
            close(read(&found, &bound.child, reading).difference, expected);
        }
    }
    // C01 misses nothing.
    let fewer = found.sensitivity.iter().filter(|one| one.child == "C01");
    assert!(
        fewer
            .into_iter()
            .all(|one| one.reading != ReadAs::MissingCorrect)
    );
}

#[test]
fn lists_that_differ_give_a_reading_on_the_common_words() {
    let mut record = record();
    for token in &mut record.tokens {
        let late = token.key.session.is_some_and(|session| session > 5);
        if late
            && token
                .key
                .child
                .as_ref()
                .is_some_and(|c| c.as_str() == "C01")
            && token.key.word.text() == "sail"
        {
            token.key.word = "[s]oup".parse().unwrap();
        }
    }
    let found = findings(&record);
    let unequal = &found.outcome.unequal_lists[0];
    let one = read(&found, "C01", ReadAs::CommonWords);
    assert_eq!(
        (one.difference, one.ci),
        (unequal.difference_on_common, unequal.ci_on_common)
    );
    assert!(warned(&found, Concern::UnequalLists));
    let page = fairhearing::report::page(&found).unwrap();
    assert!(page.contains("do not hold the same words: 9 words in common"));
}

#[test]
fn where_no_reading_changes_a_verdict_the_page_says_that_too() {
    let found = findings(&record());
    let changed = found.sensitivity.iter().any(|one| one.differs);
    let page = fairhearing::report::page(&found).unwrap();
    assert_eq!(
        page.contains("hangs on how the judgements are read"),
        changed
    );
    assert_eq!(
        page.contains("Read otherwise, every verdict stays"),
        !changed
    );
    let mut steady = found;
    for one in &mut steady.sensitivity {
        one.differs = false;
    }
    let page = fairhearing::report::page(&steady).unwrap();
    let stays = |page: &str| {
        let said = page.split("Read otherwise, every verdict stays: ").nth(1);
        said.unwrap().split("</p>").next().unwrap().to_owned()
    };
    assert_eq!(
        stays(&page),
        "for every listener; for every listener by her weight; for words not played again; for the majority on each word; \
         for missing words all correct; for missing words all distorted; for missing words correct before, distorted after; \
         for missing words distorted before, correct after."
    );
    let made = [
        ReadAs::Panel,
        ReadAs::AllListeners,
        ReadAs::Weighted,
        ReadAs::FirstPlay,
        ReadAs::Majority,
    ];
    let readings = &mut steady.sensitivity;
    readings.retain(|one| made.contains(&one.reading));
    let mut weighted = steady.sensitivity.iter_mut();
    let weighted = weighted.find(|one| one.reading == ReadAs::Weighted);
    weighted.unwrap().verdict = None;
    for one in &mut steady.sensitivity {
        if one.reading == ReadAs::FirstPlay {
            one.verdict = None;
        }
    }
    let page = fairhearing::report::page(&steady).unwrap();
    assert_eq!(
        stays(&page),
        "for every listener; for every listener by her weight (where enough is left); for the majority on each word. Too \
         little is left to tell: for words not played again."
    );
}

fn warned(found: &RoundFindings, concern: Concern) -> bool {
    found
        .warnings
        .iter()
        .any(|warning| warning.concern == concern)
}

#[test]
fn seven_of_eight_who_could_tell_are_more_than_a_coin_gives_and_six_are_not() {
    // Pascal's triangle: 7 or 8 heads of 8 come in 9 of 256 throws, 6 or more in 37.
    for (could, is_told) in [(7, true), (6, false), (0, false)] {
        let mut record = record();
        // Everybody is kept: the eighth, who guesses, too.
        record.plan.screening.rules.clear();
        record.answers = (0..8)
            .map(|n| AnswerRecord {
                listener: format!("L{:02}", n + 1).parse().unwrap(),
                question: "told-early-from-late".to_owned(),
                answer: if n < could { "sometimes" } else { "no" }.to_owned(),
            })
            .collect();
        let found = findings(&record);
        assert_eq!(warned(&found, Concern::PhasesGuessed), is_told, "{could}");
    }
}

#[test]
fn a_room_that_grew_quieter_a_voice_that_was_known_and_few_listeners_are_told() {
    let quiet = findings(&record());
    assert!(!warned(&quiet, Concern::RoomTells) && !warned(&quiet, Concern::VoiceKnown));
    // Seven of eight are kept, and nine would be enough.
    assert!(warned(&quiet, Concern::SmallPanel));
    let mut record = record();
    for token in &mut record.tokens {
        if token
            .key
            .phase
            .as_ref()
            .is_some_and(|phase| phase.as_str() == "treatment")
        {
            token.snr_db = Some(40.0);
        }
    }
    record.presentations[0].known_speaker = true;
    let found = findings(&record);
    assert!(warned(&found, Concern::RoomTells) && warned(&found, Concern::VoiceKnown));
    let said = found
        .warnings
        .iter()
        .find(|warning| warning.concern == Concern::RoomTells)
        .unwrap();
    assert!(said.found.contains("in 100% of pairs"), "{}", said.found);
    // C04 alone has two sessions before treatment.
    let short: Vec<_> = found
        .warnings
        .iter()
        .filter(|warning| warning.concern == Concern::ShortBaseline)
        .map(|warning| warning.child.clone().unwrap())
        .collect();
    assert_eq!(short, ["C04"]);
}

#[test]
fn children_chosen_for_low_scores_are_warned_of_in_the_report_and_on_their_page() {
    let mut record = record();
    assert!(!warned(&findings(&record), Concern::ChosenLow));
    record.settings.chosen_for_low_scores = ChosenLow::Cohorts(vec!["cued".parse().unwrap()]);
    let found = findings(&record);
    let chosen: Vec<_> = found
        .warnings
        .iter()
        .filter(|warning| warning.concern == Concern::ChosenLow)
        .map(|warning| warning.child.clone().unwrap())
        .collect();
    assert_eq!(chosen, ["C01", "C02"]);
    let page = fairhearing::report::page(&found).unwrap();
    for said in [
        "C01 was chosen because of a low score.",
        "regression to the mean",
        "BMJ 308, 1499",
    ] {
        assert!(page.contains(said), "{said}");
    }
    let said = |child: &str| {
        let sheet = fairhearing::report::clinic::child_sheet(&found, child).unwrap();
        sheet
            .mind
            .iter()
            .any(|line| line.said.contains("regression to the mean"))
    };
    assert_eq!(["C01", "C03"].map(said), [true, false]);
    record.settings.chosen_for_low_scores = ChosenLow::Everybody(true);
    assert_eq!(
        findings(&record)
            .warnings
            .iter()
            .filter(|one| one.concern == Concern::ChosenLow)
            .count(),
        4
    );
}

#[test]
fn the_settings_say_who_was_chosen_for_low_scores() {
    let text = |chosen: &str| {
        format!(
            "name = \"x\"\ntarget = \"y\"\nphases = [\"a\"]\ncohorts = [\"b\", \"c\"]\nchosen_for_low_scores = {chosen}\n"
        )
    };
    let read = |chosen: &str| fairhearing::exchange::read_settings("study.toml", &text(chosen));
    let c = "c".parse().unwrap();
    for (chosen, of_c, of_nobody) in [
        ("true", true, true),
        ("false", false, false),
        ("[\"c\"]", true, false),
    ] {
        let settings = read(chosen).unwrap();
        assert_eq!(
            settings.chosen_for_low_scores.holds(Some(&c)),
            of_c,
            "{chosen}"
        );
        assert_eq!(
            settings.chosen_for_low_scores.holds(None),
            of_nobody,
            "{chosen}"
        );
        // Written out, it is read as the same.
        let again = fairhearing::exchange::write_settings(&settings);
        assert_eq!(
            fairhearing::exchange::read_settings("study.toml", &again).unwrap(),
            settings
        );
    }
    assert!(
        read("[\"d\"]")
            .unwrap_err()
            .to_string()
            .contains("`d`, which is no cohort")
    );
    let refused = read("\"some\"").unwrap_err().to_string();
    assert!(
        refused.contains("true, false or a list of cohorts"),
        "{refused}"
    );
}
