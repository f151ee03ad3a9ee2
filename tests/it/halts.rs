//! Halts between two words that meet trouble: a word that is cut short after a rest, an answer that waited in a
//! browser over a long absence.

use fairhearing::app;
use fairhearing::app::listening::Stage;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;

use crate::support::Listener;
use crate::support::Study;

fn course(practice: &str, rests: &str) -> String {
    format!("[practice]\n{practice}\n[rests]\n{rests}\n[sound_check]\nfirst_sound = \"off\"\n")
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn an_answer_that_waited_in_a_browser_over_a_long_absence_is_taken() {
    let study = Study::with()
        .words(4)
        .practice(4)
        .warm_ups(0)
        .course(course(
            "pass = 0.0\nagain_hours = 24",
            "every = 0\nminutes_a_day = 0",
        ))
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    for _ in 0..6 {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
    let answered_offline = listener.current().unwrap().id;
    listener.wait_minutes(25 * 60);
    listener.go_on();
    assert!(listener.current().unwrap().practice);
    listener.judge(answered_offline, Distorted);
    let kept = study.judgements();
    assert_eq!(kept.last().unwrap().presentation, answered_offline);
    listener.judge_all(|_| Correct);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn a_rest_comes_once_though_the_word_after_it_is_cut_short_or_goes_to_others() {
    let resting = || {
        Study::with()
            .practice(0)
            .words(6)
            .repeats(0.0)
            .judgements(1)
            .give_back_minutes(10)
            .course(course("pass = 0.0", "every = 4\nminutes_a_day = 0"))
            .sealed()
    };
    let rests = |listener: &mut Listener| matches!(listener.stage(), Stage::Rest { .. });
    let study = resting();
    let mut listener = study.listener(0);
    listener.begin();
    assert_eq!(listener.judge_on(|_| Correct), 4);
    assert!(rests(&mut listener));
    listener.go_on();
    let next = listener.current().unwrap().id;
    listener.try_void(next).unwrap();
    assert_eq!(listener.judge_on(|_| Correct), 4, "four to the next rest");
    assert!(rests(&mut listener));
    // While she rests others take her words.
    let mut other = study.listener(1);
    other.wait_minutes(60);
    other.begin();
    other.judge_all(|_| Correct);
    listener.go_on();
    listener.wait_minutes(120);
    assert!(!rests(&mut listener), "she has rested");
    assert_verified(&study);
}
