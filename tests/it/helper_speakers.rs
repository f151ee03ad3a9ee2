//! Who speaks the words that are not scored: a bar and a known speaker count there too.

use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::AppError;
use fairhearing::store::PresentationRow;
use fairhearing::store::PresentationState;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::PresentationId;
use fairhearing::study::PresentationKind;
use fairhearing::study::SetAside;

use crate::support::Study;
use crate::support::With;

/// Ten helper words of each use, of which every second is said by the first child.
fn with() -> With {
    Study::with()
        .practice(4)
        .warm_ups(4)
        .checks(4)
        .examples(2)
        .repeats(0.0)
}

/// The study, with a speaker for every second word of these uses.
fn spoken(with: With, uses: &[&str], speaker: &str) -> Study {
    let study = with.made();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let mut number = 0;
    let rows: Vec<_> = manifest
        .lines()
        .map(|row| {
            let helper = uses.iter().any(|use_| row.contains(&format!(",{use_},")));
            number += usize::from(helper);
            if helper && number % 2 == 0 {
                row.replacen(",,", &format!(",{speaker},"), 1)
            } else {
                row.to_owned()
            }
        })
        .collect();
    std::fs::write(study.manifest(), rows.join("\n")).unwrap();
    study.import().unwrap();
    study.note_consents();
    study
}

#[track_caller]
fn places(study: &Study, listener: usize) -> Vec<PresentationRow> {
    study
        .store()
        .read(|reading| {
            let enrolment = reading.enrolments(reading.rounds()?[0].id)?[listener].id;
            let sitting = reading.sittings_of(enrolment)?.pop().unwrap();
            reading.presentations_of(sitting.id)
        })
        .unwrap()
}

/// The places that play a child's voice, whatever for.
fn said_by(study: &Study, child: &str) -> BTreeSet<PresentationId> {
    study
        .store()
        .read(|reading| {
            let hers: BTreeSet<_> = reading
                .tokens()?
                .into_iter()
                .filter(|token| {
                    token
                        .key
                        .child
                        .as_ref()
                        .is_some_and(|code| code.as_str() == child)
                })
                .map(|token| token.id)
                .collect();
            let tokens: BTreeSet<_> = reading
                .round_tokens(reading.rounds()?[0].id)?
                .into_iter()
                .filter(|token| hers.contains(&token.token))
                .map(|token| token.id)
                .collect();
            let rows = reading.presentations()?.into_iter();
            Ok::<_, StoreError>(
                rows.filter(|row| tokens.contains(&row.token))
                    .map(|row| row.id)
                    .collect(),
            )
        })
        .unwrap()
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_barred_child_is_heard_in_no_word_whatever_it_is_for() {
    let with = with().listeners(3).bar(1, 0);
    let child = with.child(0);
    let mut study = spoken(with, &["practice", "warm-up", "check"], &child);
    study.round = Some(study.seal(&study.with).unwrap());
    let mut heard = Vec::new();
    for listener in [0, 1] {
        let mut listening = study.listener(listener);
        listening.begin();
        listening.judge_all(|_| Correct);
        let hers = said_by(&study, &child);
        let of = places(&study, listener).into_iter();
        heard.push(of.filter(|place| hers.contains(&place.id)).count());
    }
    assert_eq!(heard[0], 0, "she is barred from this child");
    // Six scored words of each of two children, and two of each kind beside.
    assert_eq!(heard[1], 6 + 2 + 2 + 2);
    assert_verified(&study);
}

#[test]
fn a_speaker_known_by_a_word_that_is_not_scored_is_heard_no_more() {
    let with = with();
    let child = with.child(1);
    let mut study = spoken(with, &["practice", "warm-up", "check"], &child);
    study.round = Some(study.seal(&study.with).unwrap());
    let mut listener = study.listener(0);
    listener.begin();
    let hers = said_by(&study, &child);
    // The first of her words is one for practice.
    while let Some(word) = listener.current() {
        if hers.contains(&word.id) {
            assert!(word.practice);
            listener
                .try_set_aside(word.id, SetAside::KnownSpeaker)
                .unwrap();
            break;
        }
        listener.judge(word.id, Correct);
    }
    listener.judge_all(|word| {
        assert!(!hers.contains(&word.id), "she is heard no more");
        Correct
    });
    let dropped = places(&study, 0);
    let dropped = dropped
        .iter()
        .filter(|place| place.state == PresentationState::Dropped && hers.contains(&place.id));
    // Six scored words, two to warm up, two checks, and the other one for practice.
    assert_eq!(dropped.count(), 6 + 2 + 2 + 1);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn the_examples_of_a_known_speaker_are_gone_too_and_another_device_has_a_sample() {
    let with = with().examples(0);
    let child = with.child(1);
    // The first word that could check the sound is hers.
    let mut study = spoken(with, &["practice", "warm-up", "check"], &child);
    study.round = Some(study.seal(&study.with).unwrap());
    let mut listener = study.listener(0);
    listener.begin();
    let hers = said_by(&study, &child);
    while let Some(word) = listener.current() {
        if hers.contains(&word.id) {
            listener
                .try_set_aside(word.id, SetAside::KnownSpeaker)
                .unwrap();
            break;
        }
        listener.judge(word.id, Correct);
    }
    let hers = said_by(&study, &child);
    let samples: Vec<_> = places(&study, 0)
        .into_iter()
        .filter(|place| {
            place.kind == PresentationKind::Example && place.state != PresentationState::Dropped
        })
        .collect();
    assert!(!samples.is_empty());
    assert!(samples.iter().all(|place| !hers.contains(&place.id)));
    assert_verified(&study);
}

#[track_caller]
fn refusals(study: &Study) -> String {
    let refused = study.seal(&study.with).unwrap_err();
    match refused {
        AppError::Input(problems) => problems.to_string(),
        other => panic!("{other}"),
    }
}

#[test]
fn no_plan_plays_an_example_of_a_speaker_who_is_judged() {
    let with = with();
    let child = with.child(0);
    let study = spoken(with, &["example"], &child);
    let said = refusals(&study);
    assert!(
        said.contains("is an example, and words of its speaker are judged in this round"),
        "{said}"
    );
    assert!(
        said.contains("import an example of another speaker"),
        "{said}"
    );
}

#[test]
fn no_plan_leaves_a_barred_listener_without_a_word_to_check_the_sound() {
    let mut with = with()
        .examples(0)
        .practice(0)
        .checks(0)
        .warm_ups(2)
        .listeners(3)
        .bar(1, 0);
    with.labels.speaker = Some(with.child(0));
    let study = with.imported();
    let said = refusals(&study);
    assert!(
        said.contains("listener 1 is barred from every speaker whom the sound check could play"),
        "{said}"
    );
}
