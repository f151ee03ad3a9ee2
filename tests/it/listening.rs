//! What a listener does, act by act: what she would notice, and what is then in the store.

use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Stage;
use fairhearing::store::RoundTokenId;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::ListenerKind;
use fairhearing::study::PresentationKind;
use fairhearing::study::RoundName;
use fairhearing::study::SetAside;

use crate::support::Labels;
use crate::support::Listener;
use crate::support::Study;
use crate::support::answered;
use crate::support::listen;

#[test]
fn a_whole_sitting_ends_with_a_receipt_and_every_judgement_in_the_store() {
    let study = Study::with()
        .children(3)
        .peers(1)
        .words(4)
        .practice(2)
        .sittings(1)
        .sealed();
    let mut asked = 0;
    let receipt = listen(&study.workspace, &study.links()[0], |presented| {
        asked += 1;
        if presented.practice {
            Correct
        } else {
            Distorted
        }
    });
    let kept = study.judgements();
    assert_eq!(kept.len(), asked);
    // 32 scored words, 5 of them again, 2 checks, 2 for practice, 1 to warm up.
    assert_eq!(asked, 32 + 5 + 2 + 2 + 1);
    assert!(receipt.contains('-'), "{receipt}");
    let mut again = study.listener(0);
    assert_eq!(again.stage(), Stage::Done { receipt });
}

#[test]
fn a_judgement_sent_twice_is_counted_once() {
    let study = Study::with().sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    let first = listener.judge(id, Distorted);
    assert_eq!(listener.judge(id, Distorted), first);
    let kept = study.judgements();
    assert_eq!(kept.len(), 1);
}

#[test]
fn another_answer_under_the_same_revision_is_refused_and_the_first_is_kept() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    listener.judge(id, Distorted);
    let refused = listener.try_judge(id, answered(Correct, 1));
    assert!(
        matches!(refused, Err(ListeningError::Conflict)),
        "{refused:?}"
    );
    let kept = study.judgements();
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].answer, Distorted);
}

#[test]
fn a_word_set_aside_is_no_judgement() {
    let study = Study::with().practice(0).labels(Labels::markers()).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    listener.try_set_aside(id, SetAside::Noise).unwrap();
    let late = listener.try_judge(id, answered(Correct, 1));
    assert!(matches!(late, Err(ListeningError::Settled)), "{late:?}");
    let kept = study.judgements();
    assert!(kept.is_empty());
}

#[test]
fn a_listener_who_comes_back_after_an_hour_goes_on_and_loses_nothing() {
    let study = Study::with()
        .examples(1)
        .warm_ups(2)
        .give_back_minutes(30)
        .tokens_per_sitting(8)
        .judgements(1)
        .repeats(0.0)
        .repeat_distance(1)
        .replays(0)
        .show_word(false)
        .round("autumn")
        .sealed();
    let mut first = study.listener(0);
    first.begin();
    let id = first.current().unwrap().id;
    first.judge(id, Correct);
    let mut second = study.listener(1);
    second.wait_minutes(31);
    second.begin();
    first.wait_minutes(45);
    first.judge_all(|presented| {
        assert_eq!(presented.word, None);
        Distorted
    });
    assert!(study.judgements().iter().any(|row| row.presentation == id));
    first.finish();
}

#[test]
fn an_answer_stands_where_the_plan_lets_nobody_change_it() {
    let study = Study::with().practice(0).may_change(false).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    listener.judge(id, Correct);
    let refused = listener.try_judge(id, answered(Distorted, 2));
    assert!(
        matches!(refused, Err(ListeningError::Settled)),
        "{refused:?}"
    );
}

#[test]
fn a_barred_child_is_never_heard() {
    let study = Study::with()
        .children(2)
        .sessions(2)
        .checks(1)
        .listeners(3)
        .screening("rules = []".to_owned())
        .bar(1, 0)
        .sealed();
    let mut barred = study.listener(0);
    barred.begin();
    let mut asked = 0;
    barred.judge_all(|_| {
        asked += 1;
        Correct
    });
    // The six words of the other child, one of them again, one check, one to warm up, one to practise.
    assert_eq!(asked, 6 + 1 + 1 + 1 + 1);
}

#[test]
fn a_further_sitting_plays_other_words_and_one_receipt_stands_at_the_end() {
    let study = Study::with()
        .words(5)
        .checks(3)
        .tokens_per_sitting(12)
        .repeat_distance(2)
        .sittings(2)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    assert!(matches!(listener.stage(), Stage::WhatToJudge { .. }));
    listener.begin_again();
    listener.judge_all(|_| Distorted);
    assert_eq!(listener.stage(), Stage::Closing);
    listener.finish();

    // 20 scored words: 12 in the first sitting, the other 8 in the second.
    let round = &study.round.as_ref().unwrap().round;
    app::close(&study.workspace, round, Now::read()).unwrap();
    app::unlock(&study.workspace, round, Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, round).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let of = |kind| {
        record
            .presentations
            .iter()
            .filter(move |row| row.kind == kind)
    };
    let main: BTreeSet<_> = of(PresentationKind::Main).map(|row| &row.token).collect();
    let checks: BTreeSet<_> = of(PresentationKind::Check).map(|row| &row.token).collect();
    assert_eq!((main.len(), of(PresentationKind::Main).count()), (20, 20));
    assert_eq!(checks.len(), of(PresentationKind::Check).count());
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn who_found_nothing_left_begins_when_somebody_has_stopped() {
    let study = Study::with()
        .practice(0)
        .judgements(1)
        .give_back_minutes(30)
        .sealed();
    let mut first = study.listener(0);
    first.begin();
    let mut second = study.listener(1);
    second.begin();
    assert_eq!(second.stage(), Stage::NothingLeft);
    assert_eq!(second.current(), None);
    second.begin_again();
    assert_eq!(second.stage(), Stage::NothingLeft);
    // The first never comes back: her places are free after half an hour.
    second.wait_minutes(31);
    second.begin_again();
    assert_eq!(second.stage(), Stage::Sitting);
    second.judge_all(|_| Distorted);
    assert!(!study.judgements().is_empty());
}

#[test]
fn an_expert_heard_beside_takes_no_place_of_a_naive_listener() {
    let study = Study::with()
        .practice(0)
        .listeners(1)
        .judgements(1)
        .sealed();
    let round = RoundName::new("spring").unwrap();
    let wanted = Invitation {
        listeners: 1,
        kind: Some(ListenerKind::Expert),
        ..Invitation::default()
    };
    let invited = app::invite(&study.workspace, &round, &wanted, Now::read()).unwrap();
    let mut expert = Listener::open(&study.workspace, &invited.links[0]);
    expert.begin();
    expert.judge_all(|_| Correct);
    let by_her = main_words(&study);
    assert!(!by_her.is_empty());
    let progress = || app::progress(&study.workspace).unwrap().remove(0);
    assert_eq!(progress().judgements, 0, "the panel has judged nothing yet");

    let mut naive = study.listener(0);
    naive.begin();
    naive.judge_all(|_| Distorted);
    let by_both = main_words(&study);
    assert_eq!(by_both.len(), 2 * by_her.len());
    assert_eq!(progress().judgements, by_her.len());
    let words: BTreeSet<_> = by_both.iter().collect();
    assert_eq!(words, by_her.iter().collect(), "each heard every word");
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

/// The scored words that were judged, once for each judgement, by their numbers.
fn main_words(study: &Study) -> Vec<RoundTokenId> {
    study
        .store()
        .read(|reading| {
            let round = reading.rounds()?[0].id;
            let rows = reading.results(round)?.into_iter();
            Ok::<_, StoreError>(
                rows.filter(|row| row.kind == PresentationKind::Main)
                    .map(|row| row.token)
                    .collect(),
            )
        })
        .unwrap()
}

#[test]
fn an_answer_after_practice_that_came_once_more_can_be_changed_like_any_other() {
    let course = "[practice]\npass = 1.0\ntries = 2\n[rests]\nevery = 0\n";
    let study = Study::with()
        .practice(4)
        .warm_ups(0)
        .course(course.to_owned())
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    assert_eq!(listener.judge_on(|_| Correct), 4);
    assert!(matches!(listener.stage(), Stage::Practice { .. }));
    listener.go_on();
    while let Some(presented) = listener.current().filter(|presented| presented.practice) {
        listener.judge(presented.id, Correct);
    }
    let first = listener.current().unwrap().id;
    listener.judge(first, Correct);
    listener.try_judge(first, answered(Distorted, 2)).unwrap();
    let next = listener.current().unwrap().id;
    listener.judge(next, Correct);
    let late = listener.try_judge(first, answered(Correct, 3));
    assert!(matches!(late, Err(ListeningError::Settled)), "{late:?}");
    assert_eq!(study.judgements().len(), 8 + 3);
}
