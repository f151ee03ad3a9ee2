//! A study in which everything was done that leaves a row or an event.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::Exclusion;
use fairhearing::study::JudgeCode;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::KnownAnswer;
use fairhearing::study::SetAside;

use super::Labels;
use super::Study;
use super::answered;
use super::listen;

/// Notes all that staff can note before a round, and seals it.
fn noted(mut study: Study) -> Study {
    let words = |number: u32| [format!("word{number}.wav")];
    let early = Now::at_ms(1_748_851_200_001);
    app::exclude(&study.workspace, &words(6), Exclusion::Noise, early).unwrap();
    app::exclude(&study.workspace, &words(2), Exclusion::Noise, early).unwrap();
    app::include(&study.workspace, &words(2), early).unwrap();
    let judge = JudgeCode::new("second").unwrap();
    for answer in [KnownAnswer::Distorted, KnownAnswer::Correct] {
        app::answer(&study.workspace, "word17.wav", &judge, answer, early).unwrap();
    }
    app::accept_single_judge(&study.workspace, &words(18), "nobody else", early).unwrap();
    let child = "C01".parse().unwrap();
    let label = "the tall one".parse().unwrap();
    app::label_child(&study.workspace, &child, Some(&label)).unwrap();
    study.round = Some(study.seal(&study.with).unwrap());
    study
}

/// A study that was lived in: judged, revised, set aside, given back, taken up, closed, unlocked.
pub(crate) fn lived_in() -> Study {
    let study = Study::with()
        .children(3)
        .peers(1)
        .words(2)
        .labels(Labels::plain())
        .listeners(4)
        .judgements(2)
        .bar(4, 1)
        .imported();
    let study = noted(study);
    listen(&study.workspace, &study.links()[0], |_| Correct);
    let mut second = study.listener(1);
    second.begin();
    let first = second.current().unwrap().id;
    second.judge(first, Distorted);
    let next = second.current().unwrap().id;
    second.judge(next, Distorted);
    second.try_judge(next, answered(Correct, 2)).unwrap();
    let noisy = second.current().unwrap().id;
    second.try_set_aside(noisy, SetAside::Noise).unwrap();
    let mut third = study.listener(2);
    third.wait_minutes(90);
    third.begin();
    for _ in 0..6 {
        let id = third.current().unwrap().id;
        third.judge(id, Correct);
    }
    let known = third.current().unwrap().id;
    third.try_set_aside(known, SetAside::KnownSpeaker).unwrap();
    second.wait_minutes(120);
    second.judge_all(|_| Distorted);
    second.finish();
    let mut fourth = study.listener(3);
    fourth.begin();
    let name = study.round.as_ref().unwrap().round.clone();
    let later = |minutes: i64| Now::at_ms(1_749_000_000_000 + minutes * 60_000);
    app::close(&study.workspace, &name, later(0)).unwrap();
    app::unlock(&study.workspace, &name, later(1)).unwrap();
    let place = tempfile::tempdir().unwrap();
    app::back_up(&study.workspace, &place.path().join("backup"), later(2)).unwrap();
    app::stop_using_child(&study.workspace, &"C02".parse().unwrap(), later(3)).unwrap();
    app::erase_child(&study.workspace, &"C04".parse().unwrap(), later(4)).unwrap();
    study
}
