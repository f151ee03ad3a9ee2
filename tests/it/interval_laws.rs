//! Laws that intervals keep for any round: two roads to one number.

use fairhearing::stats::interval::ChangeInterval;
use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Place;
use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use fairhearing::stats::interval::between_changes;
use fairhearing::stats::proportion::wilson;
use proptest::prelude::*;

const NEAR: f64 = 1e-7;

/// Two children, two phases of two sessions each; holes, uneven listeners, any answers.
fn any_round() -> impl Strategy<Value = Vec<Judgement>> {
    let judgement = (0_u32..8, 0_u32..6, 0_u32..5, any::<bool>(), any::<bool>());
    proptest::collection::vec(judgement, 30..200).prop_map(|drawn| {
        let mut judgements: Vec<Judgement> = drawn
            .into_iter()
            .filter(|(_, _, _, _, there)| *there)
            .map(|(session, word, listener, correct, _)| Judgement {
                session,
                token: session * 10 + word,
                word: Some(word),
                listener,
                correct,
                weight: 1.0,
            })
            .collect();
        judgements.sort_by_key(|j| (j.session, j.token, j.listener));
        judgements.dedup_by_key(|j| (j.session, j.token, j.listener));
        judgements
    })
}

fn places() -> Vec<Place> {
    (0..8)
        .map(|session| Place {
            child: session / 4,
            phase: session / 2 % 2,
        })
        .collect()
}

/// Every number of a round: sessions, then both readings of each child's change; nothing where there is no interval.
fn numbers(judgements: &[Judgement]) -> Vec<Option<[f64; 3]>> {
    let round = Round::new(judgements, &places()).unwrap();
    let sessions = (0..8).map(|session| {
        round
            .session(session, 0.95)
            .ok()
            .map(|s| [s.estimate, s.low, s.high])
    });
    let changes = [[0, 1, 2, 3], [4, 5, 6, 7]]
        .into_iter()
        .flat_map(|[a, b, c, d]| {
            [Reading::TheseDays, Reading::Child].map(|reading| {
                let change = round.change(&[a, b], &[c, d], reading, 0.95).ok();
                change.map(|change| [change.difference, change.low, change.high])
            })
        });
    sessions.chain(changes).collect()
}

#[track_caller]
fn same(one: &[Option<[f64; 3]>], other: &[Option<[f64; 3]>]) -> Result<(), TestCaseError> {
    for (a, b) in one.iter().zip(other) {
        prop_assert_eq!(a.is_some(), b.is_some());
        if let (Some(a), Some(b)) = (a, b) {
            for (x, y) in a.iter().zip(b) {
                prop_assert!((x - y).abs() < NEAR, "{a:?} {b:?}");
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn an_interval_holds_its_estimate_and_stays_on_the_scale(judgements in any_round()) {
        for (place, [estimate, low, high]) in
            numbers(&judgements).into_iter().enumerate().filter_map(|(i, n)| Some((i, n?)))
        {
            let floor = if place < 8 { 0.0 } else { -1.0 };
            prop_assert!(low >= floor && high <= 1.0 && low <= high, "{low} {high}");
            prop_assert!(low - NEAR <= estimate && estimate <= high + NEAR, "{low} {estimate} {high}");
            prop_assert!(high - low > 0.0, "an interval closed: {low} {high}");
        }
    }

    #[test]
    fn the_order_of_judgements_changes_nothing(judgements in any_round()) {
        let mut turned = judgements.clone();
        turned.reverse();
        same(&numbers(&judgements), &numbers(&turned))?;
    }

    #[test]
    fn relabelling_listeners_and_words_changes_nothing(judgements in any_round()) {
        let renamed: Vec<Judgement> = judgements
            .iter()
            .map(|j| Judgement { listener: 4 - j.listener, word: j.word.map(|w| 5 - w), ..*j })
            .collect();
        same(&numbers(&judgements), &numbers(&renamed))?;
    }

    #[test]
    fn only_ratios_of_weights_matter(judgements in any_round(), factor in 0.01_f64..100.0) {
        let weighed = |scale: f64| -> Vec<Judgement> {
            let own = |j: &Judgement| Judgement { weight: scale * f64::from(1 + j.listener), ..*j };
            judgements.iter().map(own).collect()
        };
        same(&numbers(&weighed(1.0)), &numbers(&weighed(factor)))?;
    }

    #[test]
    fn swapping_the_answers_mirrors_every_interval(judgements in any_round()) {
        let swapped: Vec<Judgement> =
            judgements.iter().map(|j| Judgement { correct: !j.correct, ..*j }).collect();
        let mirrored: Vec<Option<[f64; 3]>> = numbers(&swapped)
            .into_iter()
            .enumerate()
            .map(|(place, numbers)| {
                let whole = if place < 8 { 1.0 } else { 0.0 };
                numbers.map(|[estimate, low, high]| [whole - estimate, whole - high, whole - low])
            })
            .collect();
        same(&numbers(&judgements), &mirrored)?;
    }

    #[test]
    fn going_back_is_the_opposite_change(judgements in any_round()) {
        let round = Round::new(&judgements, &places()).unwrap();
        let there = round.change(&[0, 1], &[2, 3], Reading::Child, 0.95);
        let back = round.change(&[2, 3], &[0, 1], Reading::Child, 0.95);
        if let (Ok(there), Ok(back)) = (there, back) {
            prop_assert!((there.difference + back.difference).abs() < NEAR);
            prop_assert!((there.low + back.high).abs() < NEAR);
            prop_assert!((there.mdc95 - back.mdc95).abs() < NEAR);
        }
    }

    #[test]
    fn a_surer_interval_is_wider(judgements in any_round()) {
        let round = Round::new(&judgements, &places()).unwrap();
        for session in 0..8 {
            if let (Ok(usual), Ok(surer)) = (round.session(session, 0.90), round.session(session, 0.99)) {
                prop_assert!(surer.low <= usual.low + NEAR && surer.high >= usual.high - NEAR);
            }
        }
    }
}

#[test]
fn the_edges_of_a_round_are_what_simulation_found_them_to_be() {
    // Figures of the method's own tables: 3 + 3 sessions, 10 words, 9 listeners, all distorted.
    let all = |correct: fn(u32) -> bool| -> Vec<Judgement> {
        let mut judgements = Vec::new();
        for session in 0..6 {
            for word in 0..10 {
                for listener in 0..9 {
                    judgements.push(Judgement {
                        session,
                        token: session * 10 + word,
                        word: Some(word),
                        listener,
                        correct: correct(session),
                        weight: 1.0,
                    });
                }
            }
        }
        judgements
    };
    let places: Vec<Place> = (0..6)
        .map(|s| Place {
            child: 0,
            phase: s / 3,
        })
        .collect();
    let nothing = Round::new(&all(|_| false), &places).unwrap();
    let session = nothing.session(0, 0.95).unwrap();
    assert!(
        session.low == 0.0 && (session.high - 0.219).abs() < 5e-4,
        "{session:?}"
    );
    let flat = nothing
        .change(&[0, 1, 2], &[3, 4, 5], Reading::TheseDays, 0.95)
        .unwrap();
    assert!(
        (flat.high - 0.060).abs() < 5e-4 && (flat.mdc95 - 0.044).abs() < 5e-4,
        "{flat:?}"
    );
    let risen = Round::new(&all(|session| session > 2), &places).unwrap();
    let change = risen
        .change(&[0, 1, 2], &[3, 4, 5], Reading::TheseDays, 0.95)
        .unwrap();
    assert!(
        (change.low - 0.915).abs() < 5e-4 && change.high == 1.0,
        "{change:?}"
    );
}

/// Newcombe (1998), Stat. Med. 17, 873–890, method 10: 56 of 70 less 48 of 80 is .2, between .0524 and .3339; the same
/// square-and-add limits, there of two shares.
#[test]
fn limits_between_two_changes_are_those_that_are_printed_for_two_shares() {
    let share = |hits: f64, of: f64| {
        let [low, high] = wilson(hits, of, 0.95);
        ChangeInterval {
            difference: hits / of,
            low,
            high,
            mdc95: 0.0,
            means: [0.0, 0.0],
            inflation: 1.0,
        }
    };
    let [low, high] = between_changes(&share(48.0, 80.0), &share(56.0, 70.0));
    assert!((low - 0.0524).abs() < 5e-5, "{low}");
    assert!((high - 0.3339).abs() < 5e-5, "{high}");
}
