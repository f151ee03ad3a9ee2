//! How often a word was played: the server holds it, over pages and devices.

use fairhearing::app;
use fairhearing::app::listening;
use fairhearing::app::listening::Answered;
use fairhearing::app::listening::ListeningError;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::PresentationId;

use crate::support::Listener;
use crate::support::Study;
use crate::support::answered;

/// A listener who has begun at one device, and the same one at another.
fn at_two_devices(study: &Study) -> (Listener, Listener) {
    let mut one = study.listener(0);
    one.begin();
    let mut other = study.listener(0);
    other.check_sound();
    (one, other)
}

/// Reports a play under a name; says how often the word was played in all.
fn played(
    study: &Study,
    listener: &mut Listener,
    id: PresentationId,
    name: u8,
) -> Result<u32, ListeningError> {
    let name = format!("{name:02x}").repeat(16).parse().unwrap();
    let now = listener.now();
    listening::played(&study.workspace, &listener.cookie, id, name, now)
}

fn replayed(replays: u32) -> Answered {
    Answered {
        replays,
        ..answered(Correct, 1)
    }
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_play_counts_once_and_on_every_device() {
    let study = Study::with().practice(0).replays(2).sealed();
    let (mut one, mut other) = at_two_devices(&study);
    let word = one.current().unwrap();
    assert_eq!(word.plays, 0);
    assert_eq!(played(&study, &mut one, word.id, 1).unwrap(), 1);
    assert_eq!(
        played(&study, &mut one, word.id, 1).unwrap(),
        1,
        "said again"
    );
    assert_eq!(other.current().unwrap().plays, 1);
    assert_eq!(played(&study, &mut other, word.id, 2).unwrap(), 2);
    // This page knows of its own two plays alone; the third was at the other device.
    assert_eq!(played(&study, &mut one, word.id, 3).unwrap(), 3);
    one.try_judge(word.id, replayed(1)).unwrap();
    assert_eq!(study.judgements()[0].replays, 2);
    // The same answer again gets the same, though the page still knows no better.
    one.try_judge(word.id, replayed(1)).unwrap();
    assert_eq!(study.judgements().len(), 1);
    let next = other.current().unwrap();
    assert_eq!(next.plays, 0);
    assert_verified(&study);
}

#[test]
fn a_word_that_was_played_as_often_as_the_plan_lets_it_gives_no_more_sound() {
    let study = Study::with().practice(0).replays(1).sealed();
    let (mut one, mut other) = at_two_devices(&study);
    let id = one.current().unwrap().id;
    let sound = |listener: &mut Listener| {
        let now = listener.now();
        listening::audio(&study.workspace, &listener.cookie, id, now).map(|bytes| bytes.len())
    };
    assert!(sound(&mut one).unwrap() > 0);
    played(&study, &mut one, id, 1).unwrap();
    assert!(sound(&mut other).unwrap() > 0, "one replay is left");
    played(&study, &mut other, id, 2).unwrap();
    for listener in [&mut one, &mut other] {
        let refused = sound(listener);
        assert!(
            matches!(refused, Err(ListeningError::NotHere)),
            "{refused:?}"
        );
    }
    one.judge(id, Distorted);
    assert_eq!(study.judgements()[0].replays, 1);
}

#[test]
fn an_answer_is_taken_whatever_was_played_elsewhere() {
    let study = Study::with().practice(0).replays(0).sealed();
    let (mut one, mut other) = at_two_devices(&study);
    let id = one.current().unwrap().id;
    let claimed = one.try_judge(id, replayed(1));
    assert!(
        matches!(claimed, Err(ListeningError::TooManyReplays)),
        "{claimed:?}"
    );
    played(&study, &mut one, id, 1).unwrap();
    played(&study, &mut other, id, 2).unwrap();
    one.try_judge(id, replayed(1)).unwrap();
    assert_eq!(study.judgements()[0].replays, 1);
}

#[test]
fn replays_that_were_never_reported_come_with_the_answer() {
    let study = Study::with().practice(0).replays(2).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    listener.try_judge(id, replayed(2)).unwrap();
    assert_eq!(study.judgements()[0].replays, 2);
    assert_verified(&study);
}

#[test]
fn a_play_of_a_word_that_is_not_hers_is_not_there() {
    let study = Study::with().practice(0).sealed();
    let (mut one, _) = at_two_devices(&study);
    let id = one.current().unwrap().id;
    let mut stranger = study.listener(1);
    stranger.begin();
    let refused = played(&study, &mut stranger, id, 1);
    assert!(
        matches!(refused, Err(ListeningError::NotHere)),
        "{refused:?}"
    );
    assert_eq!(one.current().unwrap().plays, 0);
}

#[test]
fn verification_sees_plays_that_no_answer_counted() {
    let study = Study::with().practice(0).replays(2).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    played(&study, &mut listener, id, 1).unwrap();
    listener.judge(id, Correct);
    // Heard again after the answer, which stays as it was.
    played(&study, &mut listener, id, 2).unwrap();
    assert_verified(&study);
    let file = rusqlite::Connection::open(study.database()).unwrap();
    file.execute_batch("UPDATE play SET answers = 0").unwrap();
    drop(file);
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert!(
        findings
            .iter()
            .any(|said| said.contains("was played 2 times before its judgement 1")),
        "{findings:?}"
    );
}

#[test]
fn an_answer_stands_once_the_next_word_was_heard_or_begun_or_the_sitting_is_over() {
    let study = Study::with()
        .practice(0)
        .sittings(2)
        .tokens_per_sitting(6)
        .sealed();
    let (mut one, mut other) = at_two_devices(&study);
    let changed = |listener: &mut Listener, id, revision| {
        listener.try_judge(id, answered(Distorted, revision))
    };
    let refused = |result: Result<_, _>| matches!(result, Err(ListeningError::Settled));
    let first = one.current().unwrap().id;
    one.judge(first, Correct);
    let second = other.current().unwrap().id;
    changed(&mut one, first, 2).unwrap();
    played(&study, &mut other, second, 1).unwrap();
    assert!(refused(changed(&mut one, first, 3)), "the next was heard");
    one.judge(second, Correct);
    let third = one.current().unwrap().id;
    other.try_void(third).unwrap();
    assert!(refused(changed(&mut one, second, 2)), "the next was begun");
    let mut last = second;
    one.judge_on(|presented| {
        last = presented.id;
        Correct
    });
    one.begin_again();
    assert!(one.current().is_some(), "another sitting");
    assert!(
        refused(changed(&mut one, last, 2)),
        "another sitting was begun"
    );
    one.judge_on(|presented| {
        last = presented.id;
        Correct
    });
    changed(&mut one, last, 2).unwrap();
    one.finish();
    assert!(refused(changed(&mut one, last, 3)), "it is over");
    assert_verified(&study);
}
