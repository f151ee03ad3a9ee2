//! Sealing: a plan that cannot be met is refused in a sentence, and what is sealed names nobody.

use crate::support::Labels;
use crate::support::Study;
use crate::support::With;
use crate::support::spoken;
use crate::support::wav_16_bit;

#[track_caller]
fn check_refused(study: &Study, with: &With, wanted: &str) {
    let before = study.events().len();
    let said = study.seal(with).unwrap_err().to_string();
    assert!(said.contains(wanted), "`{wanted}` is not in:\n{said}");
    assert_eq!(study.events().len(), before, "something was sealed");
}

#[test]
fn a_plan_that_cannot_be_met_is_refused_with_its_numbers() {
    let study = Study::with().imported();
    let with = Study::with;
    check_refused(
        &study,
        &with().listeners(2).judgements(3),
        "ask for at most 2",
    );
    check_refused(&study, &with().tokens_per_sitting(5), "10 main places");
    check_refused(
        &study,
        &with().repeat_distance(40),
        "has room for at most 14",
    );
    check_refused(
        &study,
        &with().checks(9),
        "9 check tokens, and the study has 2",
    );
    check_refused(
        &study,
        &with().listeners(0),
        "`listeners.invited` and `listeners.open` are 0",
    );
    check_refused(&study, &with().bar(3, 0), "a bar names listener 3");
    check_refused(&study, &with().bar(1, 7), "a bar names a child");
    check_refused(
        &study,
        &with().bar(1, 0),
        "1 listeners may hear one of the children",
    );
    let mut other = with();
    other.labels.phases = vec!["before".to_owned(), "after".to_owned()];
    check_refused(
        &study,
        &other,
        "`before` is no phase of this study; write one of baseline",
    );
    study.seal(&with()).unwrap();
}

#[test]
fn a_name_is_sealed_once() {
    let study = Study::with().sealed();
    check_refused(&study, &Study::with(), "a round `spring` was sealed before");
    study.seal(&Study::with().round("autumn")).unwrap();
}

#[test]
fn a_word_that_would_be_too_loud_is_refused_by_its_name() {
    let study = Study::with().made();
    // Clicks over a quiet word: brought to the study's level, their peaks leave the range.
    let mut click: Vec<f64> = spoken(40).iter().map(|s| s * 0.15).collect();
    let middle = click.len() / 2;
    click[middle..middle + 3].copy_from_slice(&[0.5, -0.5, 0.5]);
    std::fs::write(study.audio().join("word3.wav"), wav_16_bit(&click)).unwrap();
    study.import().unwrap();
    check_refused(&study, &Study::with(), "word3.wav would peak at");
}

#[test]
fn what_is_sealed_names_no_child_session_day_or_file() {
    let study = Study::with()
        .labels(Labels::markers())
        .bar(1, 0)
        .listeners(4)
        .sealed();
    let file = rusqlite::Connection::open(study.database()).unwrap();
    let document: String = file
        .query_row("SELECT document FROM round", [], |row| row.get(0))
        .unwrap();
    let mut told = document;
    for event in study.events() {
        told.push_str(event.body.as_str());
    }
    let labels = &study.with.labels;
    let mut secret = vec![
        labels.child.clone(),
        labels.first_session.to_string(),
        labels.file.clone(),
        labels.conditions[0].clone(),
        labels.speaker.clone().unwrap(),
    ];
    secret.extend(labels.dates.iter().cloned());
    for marker in secret {
        assert!(
            !told.contains(&marker),
            "{marker} stands in what is sealed or logged"
        );
    }
}
