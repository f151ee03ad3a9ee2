//! What every test by assignment shares: where the observed statistic stands among those that were possible.

/// Above this many arrangements they are drawn, not listed.
pub(super) const MOST_LISTED: f64 = 1e6;
/// How many are drawn then.
pub(super) const DRAWS: u32 = 100_000;

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
