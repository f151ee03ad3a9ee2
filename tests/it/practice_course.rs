//! Practice that must be passed: by listening, and never where there is nothing to practise on.

use fairhearing::app;
use fairhearing::app::listening::Stage;
use fairhearing::app::listening::Why;
use fairhearing::study::ChildCode;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::SetAside;

use crate::support::Labels;
use crate::support::Study;
use crate::support::With;

fn practising(practice: &str) -> With {
    let labels = Labels {
        speaker: Some(SPEAKER.to_owned()),
        ..Labels::plain()
    };
    Study::with()
        .labels(labels)
        .practice(4)
        .warm_ups(0)
        .course(format!(
            "[practice]\n{practice}\n[rests]\nevery = 0\nminutes_a_day = 0\n\
         [sound_check]\nfirst_sound = \"off\"\n"
        ))
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

/// The one child who says all practice words is taken out of use.
fn leave_out_practice(study: &Study, now: app::Now) {
    let speaker = ChildCode::new(SPEAKER).unwrap();
    app::stop_using_child(&study.workspace, &speaker, now).unwrap();
}

const SPEAKER: &str = "S09";

#[test]
fn practice_that_was_set_aside_is_not_passed() {
    let study = practising("pass = 0.75\ntries = 3").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    while let Some(word) = listener.current() {
        assert!(
            word.practice,
            "no word of the sitting comes before practice was passed"
        );
        listener.try_set_aside(word.id, SetAside::Noise).unwrap();
    }
    assert!(matches!(
        listener.stage(),
        Stage::Practice {
            why: Why::NotYet,
            ..
        }
    ));
    assert_verified(&study);
}

#[test]
fn practice_that_was_not_passed_does_not_come_again_without_words_for_it() {
    let study = practising("pass = 1.0\ntries = 3").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_on(|_| Correct);
    assert!(matches!(listener.stage(), Stage::Practice { .. }));
    let now = listener.now();
    leave_out_practice(&study, now);
    listener.go_on();
    listener.go_on();
    assert_eq!(listener.stage(), Stage::Sitting);
    listener.judge_all(|_| Correct);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn a_long_absence_holds_nobody_up_where_there_is_nothing_to_practise_on() {
    let study = practising("pass = 0.0\nagain_hours = 24").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    for _ in 0..6 {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
    listener.wait_minutes(25 * 60);
    assert!(matches!(
        listener.stage(),
        Stage::Practice { why: Why::Away, .. }
    ));
    let now = listener.now();
    leave_out_practice(&study, now);
    for _ in 0..2 {
        listener.go_on();
        assert_eq!(listener.stage(), Stage::Sitting);
        listener.wait_minutes(25 * 60);
    }
    listener.judge_all(|_| Correct);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn a_practice_word_of_a_known_speaker_is_not_held_against_her() {
    let study = practising("pass = 0.75\ntries = 1\nfailed = \"let-go\"").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let first = listener.current().unwrap();
    assert!(first.practice);
    listener
        .try_set_aside(first.id, SetAside::KnownSpeaker)
        .unwrap();
    assert_eq!(listener.stage(), Stage::Sitting);
    assert!(!listener.current().unwrap().practice);
    assert_verified(&study);
}

#[test]
fn who_fails_a_later_practice_hears_no_more_and_keeps_what_she_judged() {
    let study = practising("pass = 1.0\ntries = 1\nfailed = \"let-go\"\nagain_hours = 24")
        .practice_answers(&["correct"])
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    for _ in 0..6 {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
    listener.wait_minutes(25 * 60);
    listener.go_on();
    while let Some(word) = listener.current() {
        assert!(word.practice);
        listener.judge(word.id, Distorted);
    }
    assert_eq!(listener.stage(), Stage::Closing);
    listener.finish();
    let enrolled = study
        .store()
        .read(|reading| reading.enrolments(reading.rounds()?[0].id))
        .unwrap();
    assert_eq!(enrolled[0].let_go_ms, None, "what she judged still counts");
    assert_verified(&study);
}
