//! How a listener's course ends: with her receipt wherever she judged anything, and without words
//! that ask for nothing.

use fairhearing::app;
use fairhearing::app::listening::Stage;
use fairhearing::app::listening::Told;
use fairhearing::store::Enrolment;
use fairhearing::store::PresentationRow;
use fairhearing::store::PresentationState;
use fairhearing::store::StoreError;
use fairhearing::study::Judgement;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::PresentationKind;
use fairhearing::study::RoundName;
use fairhearing::study::SetAside;

use crate::support::Listener;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::With;

fn name() -> RoundName {
    RoundName::new("spring").unwrap()
}

fn bare() -> With {
    Study::with().practice(0).warm_ups(0).checks(0).repeats(0.0)
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[track_caller]
fn enrolment(study: &Study, listener: usize) -> Enrolment {
    let rows = study
        .store()
        .read(|reading| reading.enrolments(reading.rounds()?[0].id));
    let rows: Result<_, StoreError> = rows;
    rows.unwrap().remove(listener)
}

#[track_caller]
fn places(study: &Study, listener: usize) -> Vec<PresentationRow> {
    let enrolment = enrolment(study, listener).id;
    study
        .store()
        .read(|reading| {
            let sitting = reading.sittings_of(enrolment)?.pop().unwrap();
            reading.presentations_of(sitting.id)
        })
        .unwrap()
}

#[track_caller]
fn judge_some(listener: &mut Listener, words: usize) {
    for _ in 0..words {
        let id = listener.current().unwrap().id;
        listener.judge(id, Correct);
    }
}

#[test]
fn whoever_judged_before_the_round_closed_gets_her_receipt() {
    let study = bare().sealed();
    let mut some = study.listener(0);
    some.begin();
    judge_some(&mut some, 3);
    let mut none = study.listener(1);
    none.begin();
    let now = some.now();
    app::close(&study.workspace, &name(), now).unwrap();
    assert_eq!(none.stage(), Stage::RoundClosed);
    assert_eq!(some.stage(), Stage::Closing);
    let receipt = some.finish();
    assert_eq!(some.stage(), Stage::Done { receipt });
    assert_verified(&study);
}

#[test]
fn a_pause_keeps_nobody_from_her_receipt_who_has_judged_all() {
    let study = bare().sealed();
    let mut all = study.listener(0);
    all.begin();
    all.judge_all(|_| Correct);
    let mut some = study.listener(1);
    some.begin();
    judge_some(&mut some, 3);
    let now = some.now();
    app::pause(&study.workspace, &name(), now).unwrap();
    assert_eq!(some.stage(), Stage::Paused);
    assert_eq!(all.stage(), Stage::Closing);
    all.finish();
    assert_verified(&study);
}

#[tokio::test]
async fn between_two_sittings_she_may_leave_it_at_what_she_judged() {
    let study = bare().sittings(3).tokens_per_sitting(4).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let early = remote.get("/listen/enough").await;
    assert_eq!(early.header("location"), Some("/listen"));
    assert!(
        !remote
            .get("/listen")
            .await
            .text()
            .contains("/listen/enough")
    );
    for _ in 0..4 {
        let id = remote.ahead().await[0].clone();
        assert_eq!(remote.judge(&id, "correct").await.status, 200);
    }
    let between = remote.get("/listen").await.text();
    assert!(between.contains("action=\"/listen/begin"), "{between}");
    assert!(between.contains("That is enough for me"), "{between}");
    let closing = remote.get("/listen/enough").await.text();
    assert!(closing.contains("action=\"/listen/closing"), "{closing}");
    assert!(!closing.contains("last word"), "{closing}");
    assert_eq!(remote.post("/listen/closing", "").await.status, 303);
    let done = remote.get("/listen").await.text();
    assert!(done.contains("class=\"receipt\""), "{done}");
    assert_eq!(study.judgements().len(), 4);
    assert_verified(&study);
}

/// Eight of twelve words answered alike are too many, and seven are not.
const ONE_SIDED: &str = "rules = [{ rule = \"max-share-of-one-answer\", share = 0.6 }]";

#[test]
fn who_fails_by_her_last_word_is_let_go_when_she_finishes_and_others_get_her_words() {
    let study = bare()
        .listeners(3)
        .judgements(2)
        .screening(ONE_SIDED.to_owned())
        .sealed();
    let mut one_sided = study.listener(0);
    one_sided.begin();
    let mut judged = 0;
    one_sided.judge_all(|_| {
        judged += 1;
        if (8..12).contains(&judged) {
            Distorted
        } else {
            Correct
        }
    });
    assert_eq!(judged, 12, "she could still change her last answer");
    assert_eq!(enrolment(&study, 0).let_go_why, None);
    one_sided.finish();
    assert!(enrolment(&study, 0).let_go_why.is_some());
    for other in [1, 2] {
        let mut listener = study.listener(other);
        listener.begin();
        let mut judged = 0;
        listener.judge_all(|_| {
            judged += 1;
            [Correct, Distorted][judged % 2]
        });
        assert_eq!(judged, 12);
        listener.finish();
    }
    let progress = app::progress(&study.workspace).unwrap().remove(0);
    let met = progress.strata.values().all(|counts| *counts == (2, 2));
    assert!(met, "{:?}", progress.strata);
    assert_verified(&study);
}

#[test]
fn words_of_a_known_speaker_are_not_counted_as_still_to_come() {
    let study = Study::with().practice(0).warm_ups(0).repeats(0.5).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let first = listener.current().unwrap().id;
    listener.try_set_aside(first, SetAside::Noise).unwrap();
    let main = |place: &PresentationRow| {
        place.kind == PresentationKind::Main && place.state == PresentationState::Reserved
    };
    while !places(&study, 0)
        .iter()
        .any(|place| Some(place.id) == listener.current().map(|word| word.id) && main(place))
    {
        judge_some(&mut listener, 1);
    }
    let next = listener.current().unwrap().id;
    listener
        .try_set_aside(next, SetAside::KnownSpeaker)
        .unwrap();
    let enrolment = enrolment(&study, 0).id;
    for kind in [PresentationKind::Main, PresentationKind::Repeat] {
        let waiting = places(&study, 0)
            .iter()
            .filter(|place| place.kind == kind && place.state == PresentationState::Reserved)
            .count();
        let counted = study
            .store()
            .read(|reading| reading.may_still_judge(enrolment, kind))
            .unwrap();
        assert_eq!(counted as usize, waiting, "{kind}");
    }
}

#[test]
fn checks_that_were_heard_are_not_expected_of_a_later_sitting() {
    // Two checks in all, both heard in the first sitting: three right ones cannot come.
    let rule = "rules = [{ rule = \"min-checks-right\", right = 3 }]\nlive_after_checks = 1";
    let study = bare()
        .checks(2)
        .sittings(2)
        .tokens_per_sitting(6)
        .screening(rule.to_owned())
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    listener.finish();
    assert!(enrolment(&study, 0).let_go_why.is_some());
    assert!(study.judgements().len() <= 8, "no second sitting was heard");
    assert_verified(&study);
}

#[test]
fn practice_and_checks_alone_are_not_asked_of_anybody() {
    let study = Study::with()
        .practice(2)
        .repeats(0.0)
        .judgements(1)
        .sealed();
    let mut away = study.listener(0);
    away.begin();
    let first = away.current().unwrap();
    assert!(first.practice);
    away.judge(first.id, Correct);
    let mut other = study.listener(1);
    other.wait_minutes(120);
    other.begin();
    other.judge_all(|_| Correct);
    away.wait_minutes(180);
    assert_eq!(away.ahead(), Vec::new());
    assert_eq!(away.stage(), Stage::NothingLeft);
    away.begin_again();
    assert_eq!(away.stage(), Stage::NothingLeft);
    assert_verified(&study);
}

const TWO_TARGETS: &str = "[practice]\npass = 0.0\n[rests]\nevery = 0\nminutes_a_day = 0\n\
[sound_check]\nfirst_sound = \"off\"\n\
[[targets]]\ntarget = \"s\"\nname = \"the s sound\"\ninstruction = \"Judge the s alone.\"\n\
[[targets]]\ntarget = \"r\"\nname = \"the r sound\"\ninstruction = \"Judge the r alone.\"\n";

fn two_targets(judgements: u32) -> Study {
    bare()
        .words(6)
        .targets(2)
        .examples(4)
        .listeners(6)
        .judgements(judgements)
        .course(TWO_TARGETS.to_owned())
        .sealed()
}

/// A listener who is about to read what to judge, and the sound that she reads of first.
fn about_to_begin(study: &Study, number: usize) -> (Listener, Told) {
    let mut listener = study.listener(number);
    let now = listener.now();
    app::listening::agree(&study.workspace, &listener.cookie, "1", None, now).unwrap();
    listener.check_sound();
    let Stage::WhatToJudge { told, .. } = listener.stage() else {
        panic!("{:?}", listener.stage());
    };
    (listener, told)
}

/// Listeners who hear the same sound first as the first one does, and those who hear the other.
fn by_first_sound(study: &Study) -> (Vec<Listener>, Vec<Listener>) {
    let (_, of_the_first) = about_to_begin(study, 0);
    let mut alike = Vec::new();
    let mut others = Vec::new();
    for number in 0..6 {
        let (listener, told) = about_to_begin(study, number);
        assert_eq!((told.part, told.of, told.begins), (1, 2, true));
        if told.target == of_the_first.target {
            alike.push(listener);
        } else {
            others.push(listener);
        }
    }
    assert_eq!((alike.len(), others.len()), (3, 3));
    (alike, others)
}

#[test]
fn a_part_for_which_no_word_is_left_is_not_told() {
    let study = two_targets(2);
    let (mut alike, mut others) = by_first_sound(&study);
    // Two judge all of their first sound, and lie idle before their second.
    for listener in alike.iter_mut().take(2) {
        listener.begin_again();
        listener.judge_on(|_| Correct);
    }
    others[0].wait_minutes(180);
    others[0].begin_again();
    // One judgement of each word of the second sound is still wanted.
    let last = &mut alike[2];
    last.wait_minutes(181);
    let Stage::WhatToJudge { told, examples } = last.stage() else {
        panic!("{:?}", last.stage());
    };
    assert_eq!((told.part, told.of, told.begins), (1, 1, true));
    assert_eq!(examples.len(), 2);
    last.begin_told_of(told.block);
    assert_eq!(last.stage(), Stage::Sitting, "she was told of this part");
    assert_eq!(last.judge_on(|_| Correct), 12);
    assert_eq!(last.stage(), Stage::Closing);
    assert_verified(&study);
}

#[test]
fn where_others_took_the_words_of_a_part_the_one_that_comes_is_told_first() {
    let study = two_targets(1);
    let (mut alike, _) = by_first_sound(&study);
    alike[0].begin_again();
    alike[0].judge_on(|_| Correct);
    let Stage::WhatToJudge { told: second, .. } = alike[0].stage() else {
        panic!("{:?}", alike[0].stage());
    };
    assert_eq!((second.part, second.of, second.begins), (2, 2, false));
    // She reads of the first sound, and only words of the second come back as she begins.
    let late = &mut alike[1];
    late.wait_minutes(180);
    late.begin_again();
    let Stage::WhatToJudge { told, .. } = late.stage() else {
        panic!("{:?}", late.stage());
    };
    assert_eq!(told.target, second.target);
    assert_eq!((told.part, told.of, told.begins), (1, 1, false));
    late.go_on();
    assert_eq!(late.stage(), Stage::Sitting);
    assert_verified(&study);
}

#[test]
fn a_listener_let_go_for_practice_is_noted_with_the_reason() {
    let course = "[practice]\npass = 1.0\ntries = 1\nfailed = \"let-go\"\n[rests]\nevery = 0\n\
                  minutes_a_day = 0\n[sound_check]\nfirst_sound = \"off\"\n";
    let study = Study::with().practice(2).course(course.to_owned()).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    while let Some(word) = listener.current() {
        listener.try_set_aside(word.id, SetAside::Noise).unwrap();
    }
    assert_eq!(listener.stage(), Stage::Closing);
    listener.finish();
    let why = enrolment(&study, 0).let_go_why.unwrap();
    assert!(why.contains("practice"), "{why}");
    let mut other = study.listener(1);
    other.begin();
    let answers: [Judgement; 2] = [Correct, Distorted];
    let mut n = 0;
    other.judge_all(|_| {
        n += 1;
        answers[n % 2]
    });
    let round = name();
    app::close(&study.workspace, &round, other.now()).unwrap();
    app::unlock(&study.workspace, &round, other.now()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &round).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    assert!(found.round.flow["let_go"] >= 1);
    assert_verified(&study);
}
