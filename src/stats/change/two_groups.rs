//! Exact permutation test of two cohorts: only where the children were assigned to them at random.

use rand::Rng;
use rand::RngExt;

use super::ChangeError;
use super::at_least;
use super::mean;
use super::permutation::DRAWS;
use super::permutation::MOST_LISTED;
use super::permutation::PermutationTest;
use super::permutation::Tally;
use super::permutation::binomial;
use super::permutation::cross_sum;

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
