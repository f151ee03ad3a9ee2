//! Half mean squared differences of judgements, for each way in which two can share something.

use super::Observation;

/// What two judgements share beside the listener. A token is a word in a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sharing {
    Nothing,
    Word,
    Child,
    ChildAndWord,
    Session,
    Token,
}

impl Sharing {
    pub(super) const ALL: [Self; 6] = [
        Self::Nothing,
        Self::Word,
        Self::Child,
        Self::ChildAndWord,
        Self::Session,
        Self::Token,
    ];
}

/// Pairs that share exactly this, and half their mean squared difference.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    pub(super) sharing: Sharing,
    pub(super) same_listener: bool,
    pub(super) pairs: f64,
    pub(super) half_square: f64,
}

/// Σ over ordered pairs, themselves included: how many, and ½(y − y′)².
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    pairs: f64,
    halves: f64,
}

impl Sum {
    fn plus(self, factor: f64, other: Self) -> Self {
        Self {
            pairs: self.pairs + factor * other.pairs,
            halves: self.halves + factor * other.halves,
        }
    }
}

/// The moments of all kinds that have any pair. Two judgements of one token by one listener tell of nothing here.
pub(super) fn moments(observations: &[Observation]) -> Vec<Moment> {
    let keys = Keys::new(observations);
    let values: Vec<f64> = observations.iter().map(|o| o.value).collect();
    let anyone = keys.exact(&values, false);
    let same = keys.exact(&values, true);
    let mut moments = Vec::new();
    for ((sharing, anyone), same) in Sharing::ALL.into_iter().zip(anyone).zip(same) {
        let others = anyone.plus(-1.0, same);
        for (same_listener, sum) in [(false, others), (true, same)] {
            let itself = same_listener && sharing == Sharing::Token;
            if sum.pairs > 0.5 && !itself {
                moments.push(Moment {
                    sharing,
                    same_listener,
                    pairs: sum.pairs,
                    half_square: sum.halves / sum.pairs,
                });
            }
        }
    }
    moments
}

/// A number for each judgement's child, session, word and pairs of them.
struct Keys {
    child: Vec<u32>,
    session: Vec<u32>,
    word: Vec<u32>,
    child_word: Vec<u32>,
    token: Vec<u32>,
    listener: Vec<u32>,
}

impl Keys {
    fn new(observations: &[Observation]) -> Self {
        let words = observations
            .iter()
            .filter_map(|o| o.word)
            .max()
            .map_or(0, |w| w.saturating_add(1));
        let word: Vec<u32> = observations
            .iter()
            .map(|o| o.word.unwrap_or(words.saturating_add(o.token)))
            .collect();
        let child: Vec<u32> = observations.iter().map(|o| o.child).collect();
        let session: Vec<u32> = observations.iter().map(|o| o.session).collect();
        Self {
            child_word: numbered(&child, &word),
            token: numbered(&session, &word),
            listener: observations.iter().map(|o| o.listener).collect(),
            child,
            session,
            word,
        }
    }

    /// Pairs that share exactly each of [`Sharing::ALL`], by inclusion and exclusion.
    fn exact(&self, values: &[f64], same_listener: bool) -> [Sum; 6] {
        let everything = vec![0; values.len()];
        let sum = |key: &[u32]| {
            if same_listener {
                grouped(&numbered(key, &self.listener), values)
            } else {
                grouped(key, values)
            }
        };
        let all = sum(&everything);
        let word = sum(&self.word);
        let child = sum(&self.child);
        let both = sum(&self.child_word);
        let session = sum(&self.session);
        let token = sum(&self.token);
        [
            all.plus(-1.0, child).plus(-1.0, word).plus(1.0, both),
            word.plus(-1.0, both),
            child.plus(-1.0, session).plus(-1.0, both).plus(1.0, token),
            both.plus(-1.0, token),
            session.plus(-1.0, token),
            token,
        ]
    }
}

/// A number for each different pair, in the order of the pairs.
fn numbered(one: &[u32], other: &[u32]) -> Vec<u32> {
    let mut order: Vec<(u64, u32)> = one
        .iter()
        .zip(other)
        .map(|(a, b)| (u64::from(*a) << 32) | u64::from(*b))
        .zip(0..)
        .collect();
    order.sort_unstable();
    let mut numbers = vec![0; order.len()];
    let mut number = 0;
    let mut before = None;
    for (pair, place) in order {
        if before.is_some_and(|before| before != pair) {
            number += 1;
        }
        before = Some(pair);
        if let Some(slot) = numbers.get_mut(place as usize) {
            *slot = number;
        }
    }
    numbers
}

/// Σ over groups of equal keys of n² and of n Σy² − (Σy)².
fn grouped(keys: &[u32], values: &[f64]) -> Sum {
    let groups = keys.iter().max().map_or(0, |last| *last as usize + 1);
    let mut sums = vec![(0.0, 0.0, 0.0); groups];
    for (key, value) in keys.iter().zip(values) {
        if let Some((count, sum, squares)) = sums.get_mut(*key as usize) {
            *count += 1.0;
            *sum += value;
            *squares += value * value;
        }
    }
    sums.into_iter()
        .fold(Sum::default(), |total, (count, sum, squares)| Sum {
            pairs: total.pairs + count * count,
            halves: total.halves + count * squares - sum * sum,
        })
}
