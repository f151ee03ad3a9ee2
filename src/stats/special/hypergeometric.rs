//! The hypergeometric distribution: marked items in a draw without putting back.

use super::ParameterError;
use super::binomial::ln_binomial_pmf;

/// The number of marked items in a draw of `drawn` out of `population` items of which `marked` are marked.
///
/// Each probability is a ratio of three binomial ones (Loader 2000); tails are sums outwards from `k`,
/// always over the side away from the mean. Holds to 2e-14.
///
/// ```
/// use fairhearing::stats::special::Hypergeometric;
/// let draw = Hypergeometric::new(8, 4, 4)?;
/// assert!((draw.pmf(4) - 1.0 / 70.0).abs() < 1e-15); // one of C(8, 4) draws
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Hypergeometric {
    population: u64,
    marked: u64,
    drawn: u64,
}

impl Hypergeometric {
    /// # Errors
    /// [`ParameterError`] where more are marked or drawn than there are.
    pub fn new(population: u64, marked: u64, drawn: u64) -> Result<Self, ParameterError> {
        let refusal = |name, value: u64| ParameterError {
            distribution: "the hypergeometric distribution",
            name,
            value: value as f64,
            needed: "it may not pass the population",
        };
        if marked > population {
            return Err(refusal("marked", marked));
        }
        if drawn > population {
            return Err(refusal("drawn", drawn));
        }
        Ok(Self {
            population,
            marked,
            drawn,
        })
    }

    /// P(X = k).
    pub fn pmf(self, k: u64) -> f64 {
        if k < self.least() || k > self.most() {
            return 0.0;
        }
        if self.population == 0 {
            return 1.0;
        }
        let share = self.drawn as f64 / self.population as f64;
        let unmarked = self.population - self.marked;
        (ln_binomial_pmf(k, self.marked, share) + ln_binomial_pmf(self.drawn - k, unmarked, share)
            - ln_binomial_pmf(self.drawn, self.population, share))
        .exp()
    }

    /// P(X ≤ k).
    pub fn cdf(self, k: u64) -> f64 {
        if k >= self.most() {
            1.0
        } else if k < self.least() {
            0.0
        } else if (k as f64) < self.mean() {
            self.sum_downwards(k)
        } else {
            1.0 - self.sum_upwards(k + 1)
        }
    }

    /// P(X > k).
    pub fn sf(self, k: u64) -> f64 {
        if k >= self.most() {
            0.0
        } else if k < self.least() {
            1.0
        } else if (k as f64) < self.mean() {
            1.0 - self.sum_downwards(k)
        } else {
            self.sum_upwards(k + 1)
        }
    }

    fn least(self) -> u64 {
        (self.marked + self.drawn).saturating_sub(self.population)
    }

    fn most(self) -> u64 {
        self.marked.min(self.drawn)
    }

    fn mean(self) -> f64 {
        self.drawn as f64 * self.marked as f64 / self.population as f64
    }

    /// P(X = k+1) / P(X = k).
    fn step_up(self, k: u64) -> f64 {
        let unmarked_left = (self.population - self.marked + k + 1 - self.drawn) as f64;
        (self.marked - k) as f64 * (self.drawn - k) as f64 / ((k + 1) as f64 * unmarked_left)
    }

    fn sum_downwards(self, k: u64) -> f64 {
        let mut term = self.pmf(k);
        let mut sum = term;
        for below in (self.least()..k).rev() {
            term /= self.step_up(below);
            sum += term;
            if term < sum * 1e-18 {
                break;
            }
        }
        sum
    }

    fn sum_upwards(self, k: u64) -> f64 {
        let mut term = self.pmf(k);
        let mut sum = term;
        for above in k..self.most() {
            term *= self.step_up(above);
            sum += term;
            if term < sum * 1e-18 {
                break;
            }
        }
        sum
    }
}
