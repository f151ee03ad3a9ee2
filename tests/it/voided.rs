//! Words that are cut short while they first sound: they count as nothing and come back, marked.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Stage;
use fairhearing::store::PresentationRow;
use fairhearing::store::PresentationState;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::PresentationKind;
use fairhearing::study::SetAside;

use crate::support::Study;
use crate::support::answered;

/// The places of a listener's sitting that ask something.
#[track_caller]
fn asked(study: &Study, listener: usize) -> Vec<PresentationRow> {
    let mut places = study
        .store()
        .read(|reading| {
            let listener = reading.enrolments(reading.rounds()?[0].id)?[listener].id;
            reading.presentations_of(reading.sittings_of(listener)?[0].id)
        })
        .unwrap();
    places.retain(|place| place.kind != PresentationKind::Example);
    places
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_word_cut_short_comes_back_last_under_a_new_name_and_counts_once() {
    let study = Study::with().practice(0).warm_ups(0).repeats(0.0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let before = listener.current().unwrap();
    let place = listener.try_void(before.id).unwrap();
    assert_eq!(place, before.place, "nothing is done, and nothing is gone");
    let mut heard = Vec::new();
    listener.judge_all(|presented| {
        heard.push((presented.id, presented.word.clone()));
        Correct
    });
    assert!(heard.iter().all(|(id, _)| *id != before.id));
    let (_, last) = heard.last().unwrap();
    assert_eq!(*last, before.word);
    assert_eq!(heard.len(), 12 + 2, "twelve scored words and two checks");
    assert_eq!(study.judgements().len(), heard.len());
    listener.finish();
    assert_verified(&study);
}

#[test]
fn the_export_marks_a_word_that_came_back_and_shows_nothing_of_what_was_cut_short() {
    let study = Study::with()
        .listeners(1)
        .judgements(1)
        .practice(0)
        .warm_ups(0)
        .repeats(0.0)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let token = asked(&study, 0)[0].token;
    for _ in 0..2 {
        let places = asked(&study, 0);
        let waits = |place: &&PresentationRow| place.state == PresentationState::Reserved;
        let next = places.iter().find(waits).unwrap();
        if next.token == token {
            listener.try_void(next.id).unwrap();
        }
        while listener.ahead().len() > 1 {
            let id = listener.current().unwrap().id;
            listener.judge(id, Distorted);
        }
    }
    listener.judge_all(|_| Correct);
    listener.finish();
    let name = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &name, Now::at_ms(1_749_000_000_000)).unwrap();
    app::unlock(&study.workspace, &name, Now::at_ms(1_749_000_000_001)).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let came_back: Vec<_> = record
        .presentations
        .iter()
        .filter(|row| row.voided > 0)
        .map(|row| (row.voided, row.answer))
        .collect();
    assert_eq!(came_back, [(2, Some(Correct))]);
    assert_eq!(record.presentations.len(), 14);
    let ratings = String::from_utf8(fairhearing::exchange::write_ratings(&record)).unwrap();
    let header: Vec<_> = ratings.lines().next().unwrap().split(',').collect();
    let column = header.iter().position(|name| *name == "voided").unwrap();
    let marked = ratings
        .lines()
        .skip(1)
        .filter(|line| line.split(',').nth(column) == Some("2"));
    assert_eq!(marked.count(), 1);
}

#[test]
fn a_word_given_up_after_three_cuts_is_set_aside_with_a_reason_of_its_own_and_counted_by_phase() {
    let study = Study::with()
        .listeners(1)
        .judgements(1)
        .practice(0)
        .warm_ups(0)
        .repeats(0.0)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let first = asked(&study, 0);
    let main = |place: &&PresentationRow| place.kind == PresentationKind::Main;
    let given_up = first.iter().find(main).unwrap().token;
    let mut cuts = 0;
    while let Some(presented) = listener.current() {
        let places = asked(&study, 0);
        let place = places
            .iter()
            .find(|place| place.id == presented.id)
            .unwrap();
        if place.token == given_up {
            cuts += 1;
            listener.try_void(presented.id).unwrap();
        } else if cuts == 1 && listener.ahead().len() == 2 {
            // Another word comes back once, and is judged: it is not set aside.
            listener.try_void(presented.id).unwrap();
            cuts += 10;
        } else {
            listener.judge(presented.id, Correct);
        }
    }
    assert_eq!(cuts % 10, 3);
    listener.finish();
    assert_verified(&study);
    let name = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &name, Now::at_ms(1_749_000_000_000)).unwrap();
    app::unlock(&study.workspace, &name, Now::at_ms(1_749_000_000_001)).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let aside: Vec<_> = record
        .presentations
        .iter()
        .filter(|row| row.aside.is_some())
        .collect();
    assert_eq!(aside.len(), 1);
    let [row] = aside[..] else { unreachable!() };
    assert_eq!(
        (row.answer, row.voided, row.kind),
        (None, 3, PresentationKind::Main)
    );
    let csv = String::from_utf8(fairhearing::exchange::write_set_aside(&record)).unwrap();
    let lines: Vec<_> = csv.lines().skip(1).collect();
    assert_eq!(lines.len(), 1, "{csv}");
    assert!(lines[0].starts_with(&row.token), "{csv}");
    assert!(lines[0].ends_with(",cut-short"), "{csv}");
    let ratings = String::from_utf8(fairhearing::exchange::write_ratings(&record)).unwrap();
    assert!(
        !ratings.contains(&row.token),
        "never a judgement: {ratings}"
    );
    let findings = app::findings(&study.workspace, &unlocked).unwrap();
    let phases = &findings.round.completeness.phases;
    let by_phase: Vec<_> = phases
        .iter()
        .filter(|phase| !phase.set_aside.is_empty())
        .collect();
    assert_eq!(by_phase.len(), 1, "{phases:?}");
    assert_eq!(by_phase[0].set_aside["cut-short"], 1);
    assert_eq!(by_phase[0].unjudged, 1);
}

#[test]
fn said_twice_it_happens_once() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let id = listener.current().unwrap().id;
    let said = listener.try_void(id).unwrap();
    let places = asked(&study, 0);
    assert_eq!(listener.try_void(id).unwrap(), said);
    assert_eq!(asked(&study, 0), places);
    let told = |kind: &str| {
        let events = study.events();
        events.iter().filter(|event| event.kind == kind).count()
    };
    assert_eq!(told("voided"), 1);
}

#[test]
fn what_was_cut_short_is_not_judged_and_what_was_judged_is_not_cut_short() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let cut_short = listener.current().unwrap().id;
    listener.try_void(cut_short).unwrap();
    let late = listener.try_judge(cut_short, answered(Correct, 1));
    assert!(matches!(late, Err(ListeningError::Settled)), "{late:?}");
    let judged = listener.current().unwrap().id;
    listener.judge(judged, Distorted);
    let late = listener.try_void(judged);
    assert!(matches!(late, Err(ListeningError::Settled)), "{late:?}");
    let later = listener.ahead()[1].id;
    let early = listener.try_void(later);
    assert!(
        matches!(early, Err(ListeningError::OutOfOrder)),
        "{early:?}"
    );
    let kept: Vec<_> = study
        .judgements()
        .iter()
        .map(|row| row.presentation)
        .collect();
    assert_eq!(kept, [judged]);
}

#[test]
fn practice_is_played_again_at_once() {
    let study = Study::with().practice(1).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let practice = listener.current().unwrap();
    assert!(practice.practice);
    listener.try_void(practice.id).unwrap();
    assert_eq!(listener.current(), Some(practice));
    assert_verified(&study);
}

#[test]
fn nobody_else_can_cut_a_word_short() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let mut other = study.listener(1);
    other.begin();
    let theirs = other.try_void(listener.current().unwrap().id);
    assert!(matches!(theirs, Err(ListeningError::NotHere)), "{theirs:?}");
}

#[test]
fn a_word_that_is_always_cut_short_is_given_up_and_offered_to_others() {
    let study = Study::with()
        .listeners(2)
        .judgements(1)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let mut unlucky = study.listener(0);
    unlucky.begin();
    let mut cut_short = 0;
    while let Some(presented) = unlucky.current() {
        unlucky.try_void(presented.id).unwrap();
        cut_short += 1;
    }
    assert_eq!(cut_short, 12 * 3, "each word three times");
    assert_eq!(unlucky.stage(), Stage::Closing);
    let mut other = study.listener(1);
    other.begin();
    other.judge_all(|_| Correct);
    assert_eq!(study.judgements().len(), 12, "each word was offered to her");
    assert_verified(&study);
}

#[test]
fn wherever_words_are_cut_short_a_repeat_still_comes_late_enough_after_its_first() {
    let distance = 4;
    for seed in 1..=4_u64 {
        let study = Study::with()
            .children(3)
            .practice(0)
            .repeats(0.5)
            .repeat_distance(distance)
            .sealed();
        let mut listener = study.listener(0);
        listener.begin();
        let mut chance = seed;
        listener_walks(&study, &mut listener, || {
            chance = chance
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (chance >> 33).is_multiple_of(4)
        });
        // A word that was cut short is one of the places between: she heard it begin.
        let mut first: BTreeMap<_, u32> = BTreeMap::new();
        for place in asked(&study, 0) {
            if place.state != PresentationState::Judged {
                continue;
            }
            let order = place.place;
            match place.kind {
                PresentationKind::Main => {
                    let twice = first.insert(place.token, order);
                    assert_eq!(twice, None, "a word was judged twice as new");
                }
                PresentationKind::Repeat => {
                    let before = first.get(&place.token).copied();
                    let far = before.is_some_and(|before| order - before >= distance);
                    assert!(far, "{before:?} and again at {order}");
                }
                _ => {}
            }
        }
        let judged: BTreeSet<_> = first.keys().collect();
        assert_eq!(judged.len(), 18, "every scored word was judged");
        assert_verified(&study);
    }
}

/// Her browser shows how many words there are: a number that fell would tell which word was to be
/// heard again, and so that it is no check.
#[test]
fn whatever_becomes_of_a_word_the_number_of_words_stays() {
    let study = Study::with()
        .children(3)
        .practice(0)
        .repeats(1.0)
        .repeat_distance(4)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let planned = asked(&study, 0).len();
    let (mut word, mut fallen) = (0, 0);
    while let Some(presented) = listener.current() {
        assert_eq!(presented.place.of as usize, planned);
        word += 1;
        let after = match word {
            2 | 5 | 6 => listener.try_void(presented.id).unwrap(),
            3 => listener
                .try_set_aside(presented.id, SetAside::Noise)
                .unwrap(),
            9 => listener
                .try_set_aside(presented.id, SetAside::KnownSpeaker)
                .unwrap(),
            _ => listener.judge(presented.id, Correct).place,
        };
        assert_eq!(after.of as usize, planned, "word {word}");
        let left = asked(&study, 0);
        let left = left
            .iter()
            .filter(|place| place.state != PresentationState::Dropped);
        fallen = planned - left.count();
    }
    assert!(fallen > 6, "repeats and a child's words fell away");
    assert_verified(&study);
}

/// Judges what comes, and cuts short whenever chance says so, though no word more than twice.
fn listener_walks(
    study: &Study,
    listener: &mut crate::support::Listener,
    mut cuts: impl FnMut() -> bool,
) {
    let mut times = BTreeMap::new();
    while let Some(presented) = listener.current() {
        let places = asked(study, 0);
        let place = places
            .iter()
            .find(|place| place.id == presented.id)
            .unwrap();
        let so_far = times.entry((place.token, place.kind.as_str())).or_insert(0);
        if *so_far < 2 && cuts() {
            *so_far += 1;
            listener.try_void(presented.id).unwrap();
        } else {
            listener.judge(presented.id, Correct);
        }
    }
}
