//! The condition of each session was drawn.

use rand::Rng;

use super::RandomisationTest;
use super::shuffle;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;
use crate::stats::change::permutation::DRAWS;
use crate::stats::change::permutation::MOST_LISTED;
use crate::stats::change::permutation::Tally;
use crate::stats::change::permutation::binomial;

/// One case whose sessions were given one of two conditions each, at random.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternation {
    /// The scores in order of time.
    pub scores: Vec<f64>,
    /// Whether the session had the second condition.
    pub second: Vec<bool>,
    /// The longest run of one condition that was possible; nothing: any.
    pub longest_run: Option<usize>,
    /// Whether sessions were paired and the order drawn inside each pair.
    pub in_pairs: bool,
}

/// A randomisation test of alternating conditions; statistic: mean of the second less mean of the first.
///
/// Without pairs, every order with the same number of sessions under each condition was possible, up to the longest run.
/// Cases count together where several are given: the assignments of all are combined.
///
/// # Errors
/// [`ChangeError::NotPossible`] where the drawn order breaks the rule; [`ChangeError::TooFew`] without both conditions.
pub fn alternation_test(
    case: &Alternation,
    better: Better,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let seconds = case.second.iter().filter(|second| **second).count();
    let sessions = case.scores.len().min(case.second.len());
    if seconds == 0 || seconds == sessions {
        return Err(ChangeError::TooFew {
            found: 0,
            needed: 1,
        });
    }
    if !case.allows(&case.second) {
        return Err(ChangeError::NotPossible);
    }
    let statistic = |second: &[bool]| better.sign() * condition_gain(&case.scores, second);
    let observed = statistic(&case.second);
    let candidates = if case.in_pairs {
        2.0_f64.powf(sessions as f64 / 2.0)
    } else {
        binomial(sessions, seconds)
    };
    let mut statistics = Vec::new();
    if candidates <= MOST_LISTED {
        let mut order = Vec::with_capacity(sessions);
        case.each_order(seconds, sessions, &mut order, &mut |order| {
            statistics.push(statistic(order));
        });
        let assignments = statistics.len() as f64;
        let tally = Tally::of(observed, statistics.into_iter());
        return Ok(RandomisationTest::new(&tally, observed, assignments));
    }
    let mut order = case.second.clone();
    let mut tries = 0;
    while statistics.len() < DRAWS as usize && tries < 100 * DRAWS {
        tries += 1;
        if case.in_pairs {
            order.chunks_mut(2).for_each(|pair| shuffle(pair, rng));
        } else {
            shuffle(&mut order, rng);
        }
        if case.allows(&order) {
            statistics.push(statistic(&order));
        }
    }
    let tally = Tally::of(observed, statistics.into_iter());
    Ok(RandomisationTest::new(&tally, observed, candidates))
}

impl Alternation {
    fn allows(&self, order: &[bool]) -> bool {
        let short = self.longest_run.is_none_or(|longest| {
            order
                .chunk_by(|a, b| a == b)
                .all(|run| run.len() <= longest)
        });
        let paired = order
            .chunks_exact(2)
            .all(|pair| pair.first() != pair.last());
        short && (!self.in_pairs || (paired && order.len().is_multiple_of(2)))
    }

    fn each_order(
        &self,
        seconds: usize,
        left: usize,
        order: &mut Vec<bool>,
        take: &mut impl FnMut(&[bool]),
    ) {
        if left == 0 {
            if self.allows(order) {
                take(order);
            }
            return;
        }
        for second in [false, true] {
            let rest = seconds - usize::from(second && seconds > 0);
            let possible = if second { seconds > 0 } else { seconds < left };
            if possible {
                order.push(second);
                self.each_order(rest, left - 1, order, take);
                order.pop();
            }
        }
    }
}

fn condition_gain(scores: &[f64], second: &[bool]) -> f64 {
    let (mut sums, mut counts) = ([0.0; 2], [0.0; 2]);
    for (score, second) in scores.iter().zip(second) {
        let [first_sum, second_sum] = &mut sums;
        let [first_count, second_count] = &mut counts;
        let (sum, count) = if *second {
            (second_sum, second_count)
        } else {
            (first_sum, first_count)
        };
        *sum += score;
        *count += 1.0;
    }
    sums[1] / counts[1] - sums[0] / counts[0]
}
