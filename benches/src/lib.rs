//! Rounds of invented judgements, and the clock.

use std::time::Instant;

use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

/// One judgement: token, listener, 1 for 'correct'.
pub type Judgement = (u32, u32, u32);

/// A round of `tokens`, each judged by `judged_by` of `listeners`, from listeners with a sensitivity and a leaning of their own.
pub fn round(tokens: u32, judged_by: u32, listeners: u32, seed: u64) -> Vec<Judgement> {
    let mut chance = ChaCha12Rng::seed_from_u64(seed);
    let quality: Vec<[f64; 2]> = (0..listeners)
        .map(|_| [chance.random_range(0.05..0.35), chance.random_range(0.65..0.95)])
        .collect();
    let mut judgements = Vec::new();
    for token in 0..tokens {
        let correct = usize::from(chance.random_bool(0.55));
        let first = chance.random_range(0..listeners);
        for place in 0..judged_by {
            let listener = (first + place * listeners / judged_by) % listeners;
            let says_correct = quality[listener as usize][correct];
            judgements.push((token, listener, u32::from(chance.random_bool(says_correct))));
        }
    }
    judgements
}

/// The shortest of five runs, in seconds, with what the last one gave.
pub fn timed<T>(mut work: impl FnMut() -> T) -> (f64, T) {
    let mut once = || {
        let start = Instant::now();
        let found = work();
        (start.elapsed().as_secs_f64(), found)
    };
    let (mut shortest, mut found) = once();
    for _ in 0..4 {
        let (seconds, again) = once();
        shortest = shortest.min(seconds);
        found = again;
    }
    (shortest, found)
}
