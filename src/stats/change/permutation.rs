//! Exact permutation test of two cohorts: only where the children were assigned to them at random.

use rand::Rng;
use rand::RngExt;

use super::ChangeError;
use super::at_least;
use super::mean;

/// Above this many arrangements they are drawn, not listed.
pub(super) const MOST_LISTED: f64 = 1e6;
/// How many are drawn then.
pub(super) const DRAWS: u32 = 100_000;

/// Children in two cohorts, one value each.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoGroups {
    /// One value a child.
    pub values: Vec<f64>,
    /// Whether the child is in the second cohort.
    pub second: Vec<bool>,
    /// The block inside which it was assigned; the same for all where there were no blocks.
    pub block: Vec<usize>,
}

/// A permutation test: where the observed statistic stands among those of all assignments that were possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PermutationTest {
    /// The statistic of the assignment that was drawn.
    pub observed: f64,
    /// The share of assignments with a statistic at least as large.
    pub p_greater: f64,
    /// The share of assignments with a statistic at most as large.
    pub p_less: f64,
    /// The share of assignments with a statistic at least as far from 0.
    pub p_two_sided: f64,
    /// The smallest two-sided p that this design could have given.
    pub smallest_p: f64,
    /// How many assignments were possible.
    pub arrangements: f64,
    /// Whether all were listed; else a hundred thousand were drawn and (b + 1)/(B + 1) is given.
    pub exact: bool,
}

/// The difference of means, second less first cohort, among all ways in which the children could have been assigned.
///
/// The child is the unit. The actual assignment and all ties count (≥, with a guard for rounding of means). With
/// blocks, only assignments inside each block are possible. Up to 10⁶ arrangements are listed, else drawn with `rng`.
/// Edgington & Onghena (2007), Randomization Tests, 4th ed., ch. 4.
///
/// # Errors
/// [`ChangeError::TooFew`] where a cohort is empty.
pub fn two_group_test(
    groups: &TwoGroups,
    rng: &mut impl Rng,
) -> Result<PermutationTest, ChangeError> {
    let side = |wanted: bool| -> Vec<f64> {
        let both = groups.values.iter().zip(&groups.second);
        both.filter(|(_, second)| **second == wanted)
            .map(|(value, _)| *value)
            .collect()
    };
    let (first, second) = (side(false), side(true));
    at_least(1, [&first, &second])?;
    let blocks = blocks(groups);
    let arrangements: f64 = blocks
        .iter()
        .map(|b| binomial(b.values.len(), b.chosen))
        .product();
    let total: f64 = groups.values.iter().sum();
    let (m, n) = (first.len() as f64, second.len() as f64);
    let difference = |sum_of_second: f64| sum_of_second / n - (total - sum_of_second) / m;
    let observed = mean(&second) - mean(&first);
    let mirrored = blocks.iter().all(|b| 2 * b.chosen == b.values.len());
    let tally = if arrangements <= MOST_LISTED {
        let lists = blocks.iter().map(Block::sums);
        let sums = lists.fold(vec![0.0], |sums, list| cross_sum(&sums, &list));
        Tally::of(observed, sums.into_iter().map(difference))
    } else {
        let mut blocks = blocks;
        Tally::of(
            observed,
            (0..DRAWS)
                .map(|_| difference(blocks.iter_mut().map(|block| block.drawn_sum(rng)).sum())),
        )
    };
    let ways = if mirrored { 2.0 } else { 1.0 };
    Ok(tally.test(observed, arrangements, ways))
}

/// How often a statistic was reached.
pub(super) struct Tally {
    greater: f64,
    less: f64,
    as_far: f64,
    seen: f64,
}

impl Tally {
    pub(super) fn of(observed: f64, statistics: impl Iterator<Item = f64>) -> Self {
        let guard = 1e-9 * observed.abs().max(1e-3);
        let mut tally = Self {
            greater: 0.0,
            less: 0.0,
            as_far: 0.0,
            seen: 0.0,
        };
        for statistic in statistics {
            tally.seen += 1.0;
            if statistic >= observed - guard {
                tally.greater += 1.0;
            }
            if statistic <= observed + guard {
                tally.less += 1.0;
            }
            if statistic.abs() >= observed.abs() - guard {
                tally.as_far += 1.0;
            }
        }
        tally
    }

    /// `ways`: in how many arrangements the most extreme two-sided result would appear.
    pub(super) fn test(&self, observed: f64, arrangements: f64, ways: f64) -> PermutationTest {
        let exact = arrangements <= MOST_LISTED;
        let share = |count: f64| {
            if exact {
                count / self.seen
            } else {
                (count + 1.0) / (self.seen + 1.0)
            }
        };
        PermutationTest {
            observed,
            p_greater: share(self.greater),
            p_less: share(self.less),
            p_two_sided: share(self.as_far),
            smallest_p: if exact {
                (ways / arrangements).min(1.0)
            } else {
                1.0 / (self.seen + 1.0)
            },
            arrangements,
            exact,
        }
    }
}

/// Every sum of one of `sums` and one of `list`.
pub(super) fn cross_sum(sums: &[f64], list: &[f64]) -> Vec<f64> {
    sums.iter()
        .flat_map(|sum| list.iter().map(move |value| sum + value))
        .collect()
}

/// n over k, as a float.
pub(super) fn binomial(n: usize, k: usize) -> f64 {
    (1..=k.min(n - k))
        .fold(1.0, |ways, i| ways * (n - i + 1) as f64 / i as f64)
        .round()
}

struct Block {
    values: Vec<f64>,
    chosen: usize,
}

impl Block {
    /// The sums of all subsets of the chosen size.
    fn sums(&self) -> Vec<f64> {
        let mut sums = Vec::new();
        choose(&self.values, self.chosen, 0.0, &mut sums);
        sums
    }

    /// The sum of one subset drawn at random: the front of a partial shuffle.
    fn drawn_sum(&mut self, rng: &mut impl Rng) -> f64 {
        for place in 0..self.chosen {
            let other = rng.random_range(place..self.values.len());
            self.values.swap(place, other);
        }
        self.values.iter().take(self.chosen).sum()
    }
}

fn choose(values: &[f64], left: usize, sum: f64, sums: &mut Vec<f64>) {
    if left == 0 {
        sums.push(sum);
    } else if let Some((first, rest)) = values.split_first() {
        choose(rest, left - 1, sum + first, sums);
        if rest.len() >= left {
            choose(rest, left, sum, sums);
        }
    }
}

fn blocks(groups: &TwoGroups) -> Vec<Block> {
    let count = groups.block.iter().max().map_or(0, |last| last + 1);
    (0..count)
        .map(|number| {
            let members = groups
                .block
                .iter()
                .zip(groups.values.iter().zip(&groups.second));
            let own: Vec<_> = members.filter(|(block, _)| **block == number).collect();
            Block {
                values: own.iter().map(|(_, (value, _))| **value).collect(),
                chosen: own.iter().filter(|(_, (_, second))| **second).count(),
            }
        })
        .collect()
}
