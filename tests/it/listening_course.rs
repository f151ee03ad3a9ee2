//! The course of a sitting: practice that must be passed, rests, the cap of a day, several sounds
//! to judge.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Stage;
use fairhearing::app::listening::Why;
use fairhearing::store::PresentationRow;
use fairhearing::store::PresentationState;
use fairhearing::store::RoundTokenRow;
use fairhearing::study::Judgement;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::KnownAnswer;
use fairhearing::study::ListenerKind;
use fairhearing::study::PresentationKind;
use fairhearing::study::Presented;

use crate::support::Listener;
use crate::support::Study;
use crate::support::With;
use crate::support::answered;

/// A plan's sections, with what is given and nothing else between the words.
fn course(practice: &str, rests: &str) -> String {
    format!("[practice]\n{practice}\n[rests]\n{rests}\n[sound_check]\nfirst_sound = \"off\"\n")
}

const NO_RESTS: &str = "every = 0\nminutes_a_day = 0";
const NO_PASS: &str = "pass = 0.0";

fn tokens(study: &Study) -> Vec<RoundTokenRow> {
    let all =
        |reading: &fairhearing::store::Reading<'_>| reading.round_tokens(reading.rounds()?[0].id);
    study.store().read(all).unwrap()
}

/// The places of a listener's last sitting that ask something.
fn places(study: &Study, listener: usize) -> Vec<PresentationRow> {
    let mut places = study
        .store()
        .read(|reading| {
            let enrolment = reading.enrolments(reading.rounds()?[0].id)?[listener].id;
            let sitting = reading.sittings_of(enrolment)?.pop().unwrap();
            reading.presentations_of(sitting.id)
        })
        .unwrap();
    places.retain(|place| place.kind != PresentationKind::Example);
    places
}

/// The known answer of a word ahead, looked up behind the page's back.
fn known(study: &Study, presented: &Presented) -> Judgement {
    let place = places(study, 0)
        .into_iter()
        .find(|place| place.id == presented.id)
        .unwrap();
    let token = tokens(study)
        .into_iter()
        .find(|token| token.id == place.token);
    match token.unwrap().answer {
        Some(KnownAnswer::Distorted) => Distorted,
        _ => Correct,
    }
}

const fn other(answer: Judgement) -> Judgement {
    match answer {
        Judgement::Correct => Judgement::Distorted,
        Judgement::Distorted => Judgement::Correct,
    }
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

/// Four practice words, three of which must be told.
fn practising(practice: &str) -> With {
    Study::with()
        .practice(4)
        .warm_ups(0)
        .course(course(practice, NO_RESTS))
}

#[test]
fn practice_that_was_not_passed_comes_once_more_and_then_the_words() {
    let study = practising("pass = 0.75").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let missed = listener.judge_on(|presented| other(known(&study, presented)));
    assert_eq!(
        missed, 4,
        "no word of the sitting comes before the practice is passed"
    );
    let stage = listener.stage();
    let Stage::Practice { why, examples, .. } = stage else {
        panic!("{stage:?}");
    };
    assert_eq!((why, examples.len()), (Why::NotYet, 2));

    listener.go_on();
    listener.go_on();
    let mut practised = Vec::new();
    while let Some(presented) = listener.current().filter(|presented| presented.practice) {
        practised.push(presented.id);
        let answer = known(&study, &presented);
        // Three of four is enough.
        let answer = if practised.len() == 2 {
            other(answer)
        } else {
            answer
        };
        let said = listener.judge(presented.id, answer);
        assert!(said.feedback.is_some());
    }
    assert_eq!(
        practised.len(),
        4,
        "once more, and not twice for two presses"
    );
    assert_eq!(listener.stage(), Stage::Sitting);
    listener.judge_all(|_| Correct);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn after_the_last_try_the_sitting_goes_on_where_the_plan_says_so() {
    let study = practising("pass = 1.0\ntries = 2\nfailed = \"go-on\"").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    for _ in 0..2 {
        listener.go_on();
        let missed = |presented: &Presented| presented.practice;
        while let Some(presented) = listener.current().filter(missed) {
            let answer = other(known(&study, &presented));
            listener.judge(presented.id, answer);
        }
    }
    assert_eq!(listener.stage(), Stage::Sitting);
    assert!(
        listener
            .current()
            .is_some_and(|presented| !presented.practice)
    );
}

#[test]
fn after_the_last_try_she_is_let_go_where_the_plan_says_so_and_others_get_her_words() {
    let study = practising("pass = 1.0\ntries = 1\nfailed = \"let-go\"")
        .listeners(3)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let missed = listener.judge_on(|presented| other(known(&study, presented)));
    assert_eq!(missed, 4);
    assert_eq!(listener.stage(), Stage::Closing);
    let waiting = places(&study, 0)
        .into_iter()
        .filter(|place| place.state == PresentationState::Reserved)
        .count();
    assert_eq!(waiting, 0);
    let receipt = listener.finish();
    assert_eq!(listener.stage(), Stage::Done { receipt });
    for other in [1, 2] {
        let mut next = study.listener(other);
        next.begin();
        next.judge_all(|presented| {
            let place = places(&study, other)
                .into_iter()
                .find(|place| place.id == presented.id)
                .unwrap();
            let token = tokens(&study)
                .into_iter()
                .find(|token| token.id == place.token);
            match token.unwrap().answer {
                Some(KnownAnswer::Distorted) => Distorted,
                _ => Correct,
            }
        });
    }
    let main = study
        .store()
        .read(|reading| reading.judged_counts(reading.rounds()?[0].id, ListenerKind::Naive))
        .unwrap();
    assert!(main.iter().all(|(_, judged)| *judged == 2), "{main:?}");
    assert_verified(&study);
}

#[test]
fn after_a_long_absence_practice_comes_first_and_the_order_of_hearing_is_kept() {
    let study = practising("pass = 0.0\nagain_hours = 24").sealed();
    let mut listener = study.listener(0);
    listener.begin();
    for _ in 0..6 {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
    listener.wait_minutes(23 * 60);
    assert_eq!(listener.stage(), Stage::Sitting);
    listener.wait_minutes(2 * 60);
    assert!(matches!(
        listener.stage(),
        Stage::Practice { why: Why::Away, .. }
    ));
    assert!(listener.ahead().is_empty());
    listener.go_on();
    let mut after = 0;
    while listener
        .current()
        .is_some_and(|presented| presented.practice)
    {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
        after += 1;
    }
    assert_eq!(after, 4);
    listener.judge_all(|_| Distorted);
    listener.finish();
    assert_verified(&study);

    let round = &study.round.as_ref().unwrap().round;
    app::close(&study.workspace, round, listener.now()).unwrap();
    app::unlock(&study.workspace, round, listener.now()).unwrap();
    let unlocked = app::unlocked(&study.workspace, round).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let kinds: Vec<_> = record.presentations.iter().map(|row| row.kind).collect();
    assert!(
        kinds[..4]
            .iter()
            .all(|kind| *kind == PresentationKind::Practice)
    );
    assert!(
        kinds[4..6]
            .iter()
            .all(|kind| *kind != PresentationKind::Practice)
    );
    assert!(
        kinds[6..10]
            .iter()
            .all(|kind| *kind == PresentationKind::Practice)
    );
    let orders: Vec<_> = record.presentations.iter().map(|row| row.order).collect();
    assert!(
        orders
            .iter()
            .copied()
            .eq(1..=u32::try_from(orders.len()).unwrap())
    );
}

#[test]
fn a_rest_comes_after_every_so_many_words_with_the_examples() {
    let study = Study::with()
        .children(2)
        .words(4)
        .course(course(NO_PASS, "every = 5\nminutes_a_day = 0"))
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let mut stretches = Vec::new();
    loop {
        let judged = listener.judge_on(|_| Correct);
        if judged == 0 {
            break;
        }
        stretches.push(judged);
        match listener.stage() {
            Stage::Rest { examples, place } => {
                assert_eq!(examples.len(), 2);
                assert_eq!(place.done as usize, stretches.iter().sum::<usize>());
                assert!(listener.ahead().is_empty());
            }
            Stage::Closing => {}
            stage => panic!("{stage:?}"),
        }
        listener.go_on();
    }
    // One for practice, then 16 scored words, 2 of them again, 2 checks and 1 to warm up.
    assert_eq!(stretches, [6, 5, 5, 5, 1]);
    listener.finish();
    assert_verified(&study);
}

#[test]
fn no_word_beyond_a_rest_is_told_or_played_before_it() {
    let study = Study::with()
        .practice(0)
        .words(4)
        .course(course(NO_PASS, "every = 2\nminutes_a_day = 0"))
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    assert_eq!(listener.ahead().len(), 2);
    let third = places(&study, 0)[2].id;
    let now = listener.now();
    let sound = app::listening::audio(&study.workspace, &listener.cookie, third, now);
    assert!(matches!(sound, Err(ListeningError::NotHere)));
    // What was heard stays changeable until the next word.
    for _ in 0..2 {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
    let second = places(&study, 0)[1].id;
    assert!(matches!(listener.stage(), Stage::Rest { .. }));
    listener.try_judge(second, answered(Distorted, 2)).unwrap();
}

#[test]
fn a_day_ends_with_its_words_and_the_next_begins_at_the_same_place_on_another_device() {
    let study = Study::with()
        .practice(0)
        .words(4)
        .course(course(
            NO_PASS,
            "every = 0\nwords_a_day = 7\nminutes_a_day = 0",
        ))
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    assert_eq!(listener.judge_on(|_| Correct), 7);
    assert!(matches!(listener.stage(), Stage::Today { place } if place.done == 7));
    listener.go_on();
    assert!(
        listener.ahead().is_empty(),
        "no press goes on on a full day"
    );
    let eighth = places(&study, 0)[7].id;
    let mut elsewhere = Listener::open(&study.workspace, &study.links()[0]);
    elsewhere.wait_minutes(13 * 60);
    assert!(matches!(elsewhere.stage(), Stage::SoundCheck { .. }));
    elsewhere.check_sound();
    assert_eq!(elsewhere.stage(), Stage::Sitting);
    assert_eq!(elsewhere.current().unwrap().id, eighth);
    assert_eq!(elsewhere.judge_on(|_| Distorted), 7);
    assert_verified(&study);
}

#[test]
fn a_day_ends_with_its_minutes() {
    // Each answer comes four seconds after the one before: the sixteenth ends the minute.
    let study = Study::with()
        .practice(0)
        .words(6)
        .course(course(NO_PASS, "every = 0\nminutes_a_day = 1"))
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    assert_eq!(listener.judge_on(|_| Correct), 16);
    assert!(matches!(listener.stage(), Stage::Today { .. }));
}

const TWO_TARGETS: &str = "
[[targets]]
target = \"s\"
name = \"the s sound\"
instruction = \"Judge the s alone.\"
[[targets]]
target = \"r\"
name = \"the r sound\"
instruction = \"Judge the r alone.\"
";

fn two_targets() -> With {
    Study::with()
        .words(6)
        .checks(4)
        .practice(4)
        .warm_ups(4)
        .examples(4)
        .targets(2)
        .listeners(4)
        .judgements(4)
        .course(course(NO_PASS, NO_RESTS) + TWO_TARGETS)
}

/// How many practice words a sitting plays of each sound: With asks for four, and has two of each.
fn two_targets_sealed() -> Study {
    let mut study = two_targets().imported();
    let with = two_targets();
    let plan = with.plan().replace("practice = 4", "practice = 2");
    std::fs::write(study.plan(), plan).unwrap();
    let sealed = app::seal_round(
        &study.workspace,
        &study.plan(),
        fairhearing::app::Now::read(),
    );
    study.round = Some(sealed.unwrap());
    study
}

#[test]
fn several_sounds_are_judged_one_after_another_each_with_its_own_instruction() {
    let study = two_targets_sealed();
    let targets: BTreeMap<_, _> = tokens(&study)
        .into_iter()
        .map(|token| (token.id, token.target.unwrap_or_default()))
        .collect();
    let mut first_told = Vec::new();
    for number in 0..4 {
        let mut listener = study.listener(number);
        let mut told_of = Vec::new();
        listener.begin();
        for part in 1..=2 {
            if part == 2 {
                let Stage::WhatToJudge { told, examples } = listener.stage() else {
                    panic!("{:?}", listener.stage());
                };
                assert_eq!((told.part, told.of, examples.len()), (2, 2, 2));
                assert!(listener.ahead().is_empty());
                told_of.push(told.target);
                listener.go_on();
            }
            let mut heard = BTreeSet::new();
            listener.judge_on(|presented| {
                let place = places(&study, number)
                    .into_iter()
                    .find(|place| place.id == presented.id)
                    .unwrap();
                heard.insert(targets[&place.token].clone());
                Correct
            });
            assert_eq!(heard.len(), 1, "one sound at a time: {heard:?}");
            first_told.extend(heard.into_iter().filter(|_| part == 1));
        }
        assert_eq!(listener.stage(), Stage::Closing);
        check_parts(&places(&study, number), &targets);
    }
    for pair in first_told.chunks(2) {
        assert_ne!(
            pair[0], pair[1],
            "each sound comes first for every second listener"
        );
    }
    assert_verified(&study);
}

/// Each part holds practice first, then warm-ups, then the rest, and its repeats in their distance.
fn check_parts(
    places: &[PresentationRow],
    targets: &BTreeMap<fairhearing::store::RoundTokenId, String>,
) {
    for block in 1..=2 {
        let part: Vec<_> = places.iter().filter(|place| place.block == block).collect();
        let kinds: Vec<_> = part.iter().map(|place| place.kind.as_str()).collect();
        let first = ["practice", "practice", "warm-up", "warm-up"];
        assert_eq!(kinds[..4], first, "{kinds:?}");
        let count = |kind: &str| kinds.iter().filter(|found| **found == kind).count();
        assert_eq!((count("main"), count("check"), count("repeat")), (12, 2, 2));
        assert!(part.windows(2).all(|two| two[0].place < two[1].place));
        for repeat in part
            .iter()
            .filter(|place| place.kind == PresentationKind::Repeat)
        {
            let first = part
                .iter()
                .find(|place| place.token == repeat.token && place.kind == PresentationKind::Main);
            assert!(first.is_some_and(|first| repeat.place >= first.place + 3));
        }
        let of_part: BTreeSet<_> = part.iter().map(|place| &targets[&place.token]).collect();
        assert_eq!(of_part.len(), 1);
    }
}

#[test]
fn a_round_of_several_sounds_is_refused_until_each_is_told() {
    let study = two_targets().course(course(NO_PASS, NO_RESTS)).imported();
    let refused = study.seal(&study.with).unwrap_err().to_string();
    assert!(
        refused.contains("words of several targets: r, s"),
        "{refused}"
    );
    assert!(refused.contains("`[[targets]]`"), "{refused}");

    let few = study.seal(&two_targets()).unwrap_err().to_string();
    assert!(
        few.contains("4 practice words are wanted of target r, and the study has 2"),
        "{few}"
    );
    let misnamed =
        two_targets().course(course(NO_PASS, NO_RESTS) + &TWO_TARGETS.replace("\"r\"", "\"l\""));
    let misnamed = study.seal(&misnamed).unwrap_err().to_string();
    assert!(
        misnamed.contains("target r, which `targets` does not name"),
        "{misnamed}"
    );
    assert!(misnamed.contains("no word of target l"), "{misnamed}");
}
