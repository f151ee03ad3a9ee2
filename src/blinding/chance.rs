//! Where chance comes from: one secret seed a round, a stream of its own for each sitting, and
//! draws that no upgrade may change.

use std::fmt;

use rand_chacha::ChaCha12Rng;
use rand_chacha::rand_core::Rng;
use rand_chacha::rand_core::SeedableRng;

use crate::study::AnswerSide;

/// The stream that chooses the links of a round; no sitting's number comes near it.
const LINKS: u64 = 1 << 62;

/// The stream that draws which sessions and words a round plays.
const SAMPLE: u64 = LINKS + 1;

/// The streams with this bit set deal the answer sides.
const SIDES: u64 = 1 << 63;

/// The streams with this bit set, and not the one above, deal the order of the targets; those with
/// neither belong to sittings.
const TARGETS: u64 = 1 << 61;

/// The secret of a round: 256 bits from the operating system, hashed in the seal, revealed at
/// close. Whoever holds it can rebuild every order; nobody else can foresee one.
#[derive(Clone, PartialEq, Eq)]
pub struct Seed([u8; 32]);

impl Seed {
    /// A seed from 32 random bytes.
    pub const fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The bytes, to be stored, hashed and, at close, revealed.
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The chance of one sitting: the same for the same number, independent of every other's.
    /// `number` stays below 2^62.
    pub fn sitting(&self, number: u64) -> Chance {
        self.stream(number & !(SIDES | TARGETS))
    }

    /// The chance by which earlier words are chosen to be heard again.
    pub fn links(&self) -> Chance {
        self.stream(LINKS)
    }

    /// The chance by which sessions and words are drawn from all that were recorded.
    pub fn sample(&self) -> Chance {
        self.stream(SAMPLE)
    }

    /// The chance that deals the order of unnamed graphs, from a seed of its own.
    pub fn graphs(&self) -> Chance {
        self.stream(0)
    }

    fn stream(&self, stream: u64) -> Chance {
        let mut generator = ChaCha12Rng::from_seed(self.0);
        generator.set_stream(stream);
        Chance(generator)
    }
}

impl fmt::Debug for Seed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Seed(…)")
    }
}

/// On which side the answer 'correct' stands for the listener with this number in the round,
/// counted from 1. Each pair of listeners (1 and 2, 3 and 4, …) has both sides in random order,
/// so that the first n listeners, for every n, differ by at most one.
pub fn answer_side(listener_number: u64, seed: &Seed) -> AnswerSide {
    let index = listener_number.saturating_sub(1);
    let first_left = seed.stream(SIDES | (index / 2)).below(2) == 0;
    if first_left == index.is_multiple_of(2) {
        AnswerSide::Left
    } else {
        AnswerSide::Right
    }
}

/// In which order the listener with this number in the round, counted from 1, judges `n_targets`
/// targets (0, 1, …) in a sitting of hers, counted from 1.
///
/// Of each `n_targets` listeners (1 to n, n + 1 to 2n, …) every target is the first of one, the
/// second of one, and so on (the rows of a cyclic Latin square over a random order, dealt at
/// random). In each further sitting of a listener the first target becomes the last.
pub fn target_order(
    listener_number: u64,
    sitting_number: u32,
    n_targets: usize,
    seed: &Seed,
) -> Vec<usize> {
    let n = n_targets.max(1) as u64;
    let index = listener_number.saturating_sub(1);
    let mut chance = seed.stream(TARGETS | (index / n));
    let mut order: Vec<usize> = (0..n_targets).collect();
    chance.shuffle(&mut order);
    let mut rows: Vec<usize> = (0..n_targets).collect();
    chance.shuffle(&mut rows);
    let within = usize::try_from(index % n).unwrap_or(0);
    let further = usize::try_from(sitting_number.saturating_sub(1)).unwrap_or(0);
    let turn = rows.get(within).copied().unwrap_or(0) + further;
    if !order.is_empty() {
        let turn = turn % order.len();
        order.rotate_left(turn);
    }
    order
}

/// A stream of chance: `ChaCha12` with draws of our own, so that a recorded seed gives the same
/// order in every version of this program.
pub struct Chance(ChaCha12Rng);

impl Chance {
    /// A whole number from 0 to `bound` − 1, each equally likely; 0 where `bound` is 0.
    ///
    /// Takes 64 bits, refuses the lowest 2^64 mod `bound` values and returns the rest of the
    /// division by `bound`: every result then has equally many of the remaining values.
    pub fn below(&mut self, bound: usize) -> usize {
        let wide = bound as u64;
        if wide < 2 {
            return 0;
        }
        let refused = wide.wrapping_neg() % wide;
        loop {
            let drawn = self.0.next_u64();
            if drawn >= refused {
                return usize::try_from(drawn % wide).unwrap_or(0);
            }
        }
    }

    /// A float in [0, 1) with 53 random bits.
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Puts a list into random order, each order equally likely (Fisher and Yates, as by
    /// Durstenfeld 1964: from the last place down, each exchanged with one at or before it).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            list.swap(last, self.below(last + 1));
        }
    }

    /// One of a list, each equally likely.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get(self.below(list.len()))
    }
}
