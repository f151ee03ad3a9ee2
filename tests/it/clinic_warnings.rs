//! Each warning stands on the child's page where it is due, in the words of the report, and nowhere else.

use fairhearing::analysis::Concern;
use fairhearing::report;
use fairhearing::report::clinic;
use fairhearing::study::ChosenLow;
use fairhearing::study::Judgement;
use fairhearing::study::ListenerKind;
use fairhearing::study::record::AnswerRecord;
use fairhearing::study::record::RoundRecord;

use crate::support::findings;
use crate::support::record;

/// A round in which nothing is to be warned of at C01: experts, of whom three a word are enough, and her baseline level.
fn calm() -> RoundRecord {
    let mut record = record();
    record.plan.listeners.kind = ListenerKind::Expert;
    for listener in &mut record.listeners {
        listener.kind = ListenerKind::Expert;
    }
    baseline(&mut record, [2, 2, 2]);
    record
}

/// So many of the ten words of each baseline session of C01 sound right to everybody, the others to nobody.
fn baseline(record: &mut RoundRecord, right: [usize; 3]) {
    for (session, right) in (1..).zip(right) {
        let tokens: Vec<String> = record
            .tokens
            .iter()
            .filter(|token| is_hers(token.key.child.as_ref()) && token.key.session == Some(session))
            .map(|token| token.name.clone())
            .collect();
        assert_eq!(tokens.len(), 10);
        for row in &mut record.presentations {
            if let Some(place) = tokens.iter().position(|name| *name == row.token) {
                row.answer = Some(if place < right {
                    Judgement::Correct
                } else {
                    Judgement::Distorted
                });
            }
        }
    }
}

fn is_hers(child: Option<&fairhearing::study::ChildCode>) -> bool {
    child.is_some_and(|code| code.as_str() == "C01")
}

/// Takes a whole session of C01 out.
fn without_session(record: &mut RoundRecord, session: u32) {
    let gone: Vec<String> = record
        .tokens
        .iter()
        .filter(|token| is_hers(token.key.child.as_ref()) && token.key.session == Some(session))
        .map(|token| token.name.clone())
        .collect();
    record.tokens.retain(|token| !gone.contains(&token.name));
    record
        .presentations
        .retain(|row| !gone.contains(&row.token));
}

/// What the page of C01 bids to keep in mind; each line is held against the report of the same round.
fn in_mind(record: &RoundRecord) -> Vec<(&'static str, String)> {
    let found = findings(record);
    let page = report::page(&found).unwrap();
    let hers = found
        .warnings
        .iter()
        .filter(|one| one.child.as_deref().is_none_or(|child| child == "C01"));
    let sheet = clinic::child_sheet(&found, "C01").unwrap();
    for warning in hers {
        let in_report = page.contains(&warning.found.replace('\'', "&#39;"));
        assert!(in_report, "{}", warning.found);
        let mut lines = sheet.mind.iter();
        let line = lines.find(|line| line.said.contains(&warning.found));
        let line = line.unwrap_or_else(|| panic!("{} is not on the page", warning.found));
        assert!(line.said.ends_with(warning.means));
        assert_eq!(line.advice, Some(warning.advice));
    }
    let lines = sheet.mind.into_iter();
    lines.map(|line| (line.about, line.said)).collect()
}

#[test]
fn where_nothing_is_due_the_page_bids_to_keep_nothing_in_mind() {
    assert_eq!(in_mind(&calm()), []);
}

/// Changes a calm round in one way, and says the one line that this brings.
#[track_caller]
fn check(change: impl Fn(&mut RoundRecord), about: &'static str, said: &str) {
    let mut record = calm();
    change(&mut record);
    assert_eq!(in_mind(&record), [(about, said.to_owned())]);
}

#[test]
fn a_baseline_under_three_points() {
    check(
        |record| without_session(record, 3),
        "Few sessions before",
        "The baseline of C01 has 2 judged sessions. The baseline has fewer than three sessions: a rise after it may be \
         growth, or a low start by chance, as well as treatment.",
    );
}

#[test]
fn a_rising_baseline() {
    // 20%, 20%, 40%: the line through them rises by 20 points, more than the 15 that matter.
    check(
        |record| baseline(record, [2, 2, 4]),
        "A rise before treatment",
        "The baseline of C01 rises by 20 points from its first to its last session. The sound was getting better before treatment began: growth, or practice with the probe, may go on and \
         look like treatment.",
    );
    // 20%, 10%, 30%: by 10 points, and not step by step.
    let mut wavering = calm();
    baseline(&mut wavering, [2, 1, 3]);
    assert_eq!(in_mind(&wavering), []);
}

#[test]
fn a_rising_baseline_before_any_treatment() {
    check(
        |record| {
            baseline(record, [1, 2, 3]);
            for session in 4..=11 {
                without_session(record, session);
            }
        },
        "A rise before treatment",
        "The baseline of C01 rises by 20 points from its first to its last session, each of them better than the one \
         before. The sound was getting better before treatment began: growth, or practice with the probe, may go on and \
         look like treatment.",
    );
}

#[test]
fn a_first_session_far_below_the_others() {
    // 0%, then 20% and 10%: 15 points below their mean, and a line that rises by 10.
    check(
        |record| baseline(record, [0, 2, 1]),
        "A low first session",
        "The first session of C01's baseline lies 15 points below the mean of its other sessions. Whoever is chosen for a \
         low score scores higher the next time by chance alone (regression to the mean); that first session makes the \
         change look larger.",
    );
}

#[test]
fn chosen_for_a_low_score() {
    check(
        |record| record.settings.chosen_for_low_scores = ChosenLow::Everybody(true),
        "Chosen for a low score",
        "C01 was chosen because of a low score. Whoever is chosen for a low score scores higher the next time by chance \
         alone (regression to the mean): part of a rise may be no change at all.",
    );
}

#[test]
fn probe_lists_that_differ() {
    check(
        |record| {
            for token in &mut record.tokens {
                let late = token.key.session.is_some_and(|session| session > 5);
                if late && is_hers(token.key.child.as_ref()) && token.key.word.text() == "sail" {
                    token.key.word = "[s]oup".parse().unwrap();
                }
            }
        },
        "Not the same words",
        "The sessions of C01 do not hold the same words: 9 words in common. Easier or harder words may have come or gone: \
         part of the change may be one of the words.",
    );
}

#[test]
fn a_room_that_could_unblind() {
    check(
        |record| {
            for token in &mut record.tokens {
                let phase = token.key.phase.as_ref();
                if phase.is_some_and(|phase| phase.as_str() == "treatment") {
                    token.snr_db = Some(40.0);
                }
            }
        },
        "The room can be heard",
        "The recordings tell treatment from baseline by how far speech stands over the noise: in 100% of pairs of one \
         child's words the later one has more. The recordings tell maintenance from treatment by how far speech stands \
         over the noise: in 100% of pairs of one child's words the later one has less. A listener who hears the room or \
         the device may know early from late, though nobody told her.",
    );
}

#[test]
fn a_room_that_tells_in_many_ways_takes_one_line() {
    let mut record = calm();
    for token in &mut record.tokens {
        let phase = token.key.phase.as_ref();
        if phase.is_some_and(|phase| phase.as_str() == "treatment") {
            (token.snr_db, token.bandwidth_hz) = (Some(40.0), 7_000.0);
        }
    }
    let found = findings(&record);
    let sheet = clinic::child_sheet(&found, "C01").unwrap();
    let tell = found.warnings.iter();
    let tell = tell.filter(|one| one.concern == Concern::RoomTells).count();
    assert_eq!((tell, sheet.mind.len()), (4, 1));
    let said = &sheet.mind[0].said;
    assert!(
        said.contains("2 more such differences stand in the report."),
        "{said}"
    );
}

#[test]
fn a_panel_too_small() {
    check(
        |record| {
            record.plan.listeners.kind = ListenerKind::Naive;
            for listener in &mut record.listeners {
                listener.kind = ListenerKind::Naive;
            }
        },
        "Few listeners",
        // Seven of eight are kept: the eighth guesses.
        "Each word was heard by 7 naive listeners of the panel on average. So few ears may lean one way together; the \
         limits allow for it, but another panel may hear otherwise.",
    );
}

#[test]
fn listeners_who_guessed_the_phases() {
    check(
        |record| {
            // Seven of seven: a coin gives that in 1 of 128 panels.
            record.answers = (1..=7)
                .map(|n| AnswerRecord {
                    listener: format!("L{n:02}").parse().unwrap(),
                    question: "told-early-from-late".to_owned(),
                    answer: "often".to_owned(),
                })
                .collect();
        },
        "Early or late was guessed",
        "Of 7 listeners of the panel who were asked, 7 said that they could tell early from late recordings, often or \
         sometimes. They may have been less blind than planned, and may have heard what they expected.",
    );
}

#[test]
fn a_voice_that_was_known() {
    check(
        |record| record.presentations[0].known_speaker = true,
        "A known voice",
        "1 judgement of the panel is of a child whose voice the listener later said she knew. Whoever knows a child \
         hears more than the word.",
    );
}
