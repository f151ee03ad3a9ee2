//! Where chance comes from: one secret seed a round, a stream of its own for each sitting, and
//! draws that no upgrade may change.

use std::fmt;

use rand_chacha::ChaCha12Rng;
use rand_chacha::rand_core::Rng;
use rand_chacha::rand_core::SeedableRng;

use crate::study::AnswerSide;

/// The stream that chooses the links of a round; no sitting's number comes near it.
const LINKS: u64 = 1 << 62;

/// The streams with this bit set deal the answer sides; the others belong to sittings.
const SIDES: u64 = 1 << 63;

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
    /// `number` stays below 2^63.
    pub fn sitting(&self, number: u64) -> Chance {
        self.stream(number & !SIDES)
    }

    /// The chance by which earlier words are chosen to be heard again.
    pub fn links(&self) -> Chance {
        self.stream(LINKS)
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
