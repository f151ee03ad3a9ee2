//! No phase and no session comes earlier in a sitting than another, over many seeds.

use std::collections::BTreeMap;

use fairhearing::blinding::Candidate;
use fairhearing::blinding::Slot;
use fairhearing::study::PresentationKind;

use crate::blinding_order::candidate;
use crate::blinding_order::clashes;
use crate::blinding_order::design;
use crate::blinding_order::extras;
use crate::blinding_order::ordered;
use crate::blinding_order::study;
use crate::blinding_order::voices;

/// Means over many seeds are held to this many of their own standard errors: by chance alone one
/// check in 16,000 lies further out (normal distribution, two-sided). Seeds are fixed, so a check
/// that passes passes always.
const MONTE_CARLO_LIMIT: f64 = 4.0;

fn mean_and_error(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// Pearson's correlation.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let n = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let sum =
        |of: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|p| of(p.0 - mx, p.1 - my)).sum::<f64>();
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
}

/// Places of the main tokens, with what `of` says of each.
fn places(slots: &[Slot], main: &[Candidate], of: fn(&Candidate) -> u32) -> Vec<(f64, u32)> {
    let of: BTreeMap<u32, u32> = main.iter().map(|c| (c.token, of(c))).collect();
    let heard = slots
        .iter()
        .enumerate()
        .filter(|(_, slot)| slot.kind == PresentationKind::Main);
    heard
        .map(|(at, slot)| (at as f64, of[&slot.token]))
        .collect()
}

/// Unequal in everything: phases of 12, 24 and 8 tokens, a child with many, sessions of 2 to 6.
fn uneven_study() -> Vec<Candidate> {
    let sizes = [
        (0, 0, 0, 6),
        (0, 2, 1, 6),
        (0, 3, 1, 6),
        (0, 5, 2, 2),
        (1, 0, 0, 2),
        (1, 2, 1, 6),
        (1, 4, 2, 4),
        (2, 0, 0, 4),
        (2, 2, 1, 6),
        (2, 4, 2, 2),
    ];
    let mut tokens = Vec::new();
    for (child, session, phase, words) in sizes {
        for word in 0..words {
            let token = u32::try_from(tokens.len()).unwrap();
            tokens.push(candidate(token, child, session, phase, word));
        }
    }
    tokens
}

fn correlation_with_phase(slots: &[Slot], main: &[Candidate]) -> f64 {
    let places = places(slots, main, |c| c.phase).into_iter();
    let pairs: Vec<_> = places
        .map(|(place, phase)| (place, f64::from(phase)))
        .collect();
    correlation(&pairs)
}

/// Every second place must be the first child's, and the words of the first phase, three only, are
/// most in the way, so that a search is tempted to place them first.
#[test]
fn place_and_phase_are_uncorrelated_where_hardly_an_order_is_left() {
    let main: Vec<Candidate> = (0..60)
        .map(|t| match t / 2 % 2 {
            0 => candidate(t, t % 2, 0, 0, t % 3),
            _ => candidate(t, t % 2, 1, 1, 100 + t),
        })
        .collect();
    let correlations: Vec<f64> = (0..150)
        .map(|seed| {
            let slots = ordered(&main, &[], &[], &[], design(0, 1), seed);
            assert_eq!(clashes(&slots, &voices(&main, &[])), 0);
            correlation_with_phase(&slots, &main)
        })
        .collect();
    let (mean, error) = mean_and_error(&correlations);
    assert!(mean.abs() < MONTE_CARLO_LIMIT * error, "{mean} ± {error}");
}

#[test]
fn over_many_seeds_place_and_phase_are_uncorrelated() {
    for main in [study(4, 6, 3), uneven_study()] {
        let (checks, warm_ups) = (extras(900, 6), extras(920, 4));
        let correlations: Vec<f64> = (0..1500)
            .map(|seed| {
                let slots = ordered(&main, &checks, &warm_ups, &[], design(7, 10), seed);
                correlation_with_phase(&slots, &main)
            })
            .collect();
        let (mean, error) = mean_and_error(&correlations);
        assert!(mean.abs() < MONTE_CARLO_LIMIT * error, "{mean} ± {error}");
        // In one sitting too it stays small: in fully random orders it would have a standard
        // deviation of 1/√(n − 1).
        let deviation = error * (correlations.len() as f64).sqrt();
        let random = 1.0 / (main.len() as f64 - 1.0).sqrt();
        assert!(deviation < 0.5 * random, "{deviation} against {random}");
    }
}

/// For each session of each child: its mean place is the middle, and a random token of it falls
/// into each quarter of the sitting equally often.
#[test]
fn over_many_seeds_every_session_is_heard_everywhere_alike() {
    const SEEDS: u64 = 2000;
    let main = uneven_study();
    let mut middles: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    let mut quarters: BTreeMap<u32, [f64; 4]> = BTreeMap::new();
    for seed in 0..SEEDS {
        let slots = ordered(&main, &[], &[], &[], design(0, 1), seed);
        let mut of_session: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
        for (place, session) in places(&slots, &main, |c| c.stratum) {
            let share = (place + 0.5) / main.len() as f64;
            of_session.entry(session).or_default().push(share);
        }
        for (session, shares) in of_session {
            let mean = shares.iter().sum::<f64>() / shares.len() as f64;
            middles.entry(session).or_default().push(mean);
            for share in &shares {
                let quarter = [0.25, 0.5, 0.75].iter().filter(|end| share >= end).count();
                quarters.entry(session).or_default()[quarter] +=
                    1.0 / shares.len() as f64 / SEEDS as f64;
            }
        }
    }
    for (session, means) in &middles {
        let (mean, error) = mean_and_error(means);
        assert!(
            (mean - 0.5).abs() < MONTE_CARLO_LIMIT * error,
            "{session}: {mean} ± {error}"
        );
    }
    for (session, shares) in quarters {
        for share in shares {
            assert!((share - 0.25).abs() < 0.02, "session {session}: {shares:?}");
        }
    }
}
