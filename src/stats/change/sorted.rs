//! The points of a phase by size, so that pairs are counted without looking at each.

use super::Better;

/// The points of a phase by size.
pub(super) struct Sorted<'a> {
    points: &'a [f64],
}

/// Of the points of a phase beside one other point: how many are below it, and how many are equal to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Beside {
    pub(super) below: usize,
    pub(super) equal: usize,
}

impl<'a> Sorted<'a> {
    /// Sorts the points in their place.
    pub(super) fn new(points: &'a mut [f64]) -> Self {
        points.sort_unstable_by(f64::total_cmp);
        Self { points }
    }

    pub(super) fn beside(&self, other: f64) -> Beside {
        let below = self.points.partition_point(|point| *point < other);
        let not_above = self.points.partition_point(|point| *point <= other);
        Beside {
            below,
            equal: not_above - below,
        }
    }

    /// How many points are better than another one, how many equal to it.
    pub(super) fn better_than(&self, other: f64, better: Better) -> (f64, f64) {
        let Beside { below, equal } = self.beside(other);
        let better = match better {
            Better::Higher => self.points.len() - below - equal,
            Better::Lower => below,
        };
        (better as f64, equal as f64)
    }
}

/// How many points of each rank were met so far (Fenwick 1994, Softw. Pract. Exper. 24, 327–336).
pub(super) struct Met {
    /// The place p, from 1, holds how many were met of the ranks that its lowest set bit spans up to p.
    spans: Vec<usize>,
}

impl Met {
    pub(super) fn none_of(ranks: usize) -> Self {
        Self {
            spans: vec![0; ranks + 1],
        }
    }

    pub(super) fn meet(&mut self, rank: usize) {
        let mut place = rank + 1;
        while let Some(span) = self.spans.get_mut(place) {
            *span += 1;
            place += place & place.wrapping_neg();
        }
    }

    /// How many were met of the ranks below this one.
    pub(super) fn below(&self, rank: usize) -> usize {
        let mut place = rank;
        let mut met = 0;
        while place > 0 {
            met += self.spans.get(place).copied().unwrap_or(0);
            place &= place - 1;
        }
        met
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn pairs_are_those_that_one_counts_by_looking_at_each(
            points in proptest::collection::vec(0_u8..6, 0..20),
            other in 0_u8..6,
        ) {
            let mut values: Vec<f64> = points.iter().map(|point| f64::from(*point)).collect();
            let count = |fits: fn(&u8, &u8) -> bool| {
                points.iter().filter(|point| fits(point, &other)).count()
            };
            let sorted = Sorted::new(&mut values);
            let beside = sorted.beside(f64::from(other));
            prop_assert_eq!(beside.below, count(|point, other| point < other));
            prop_assert_eq!(beside.equal, count(|point, other| point == other));
            let mut met = Met::none_of(6);
            for point in &points {
                met.meet(usize::from(*point));
            }
            prop_assert_eq!(met.below(usize::from(other)), beside.below);
        }
    }
}
