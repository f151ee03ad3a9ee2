//! The binomial distribution: how likely a guesser passes a rule of so many checks.

use super::ParameterError;
use super::incomplete::ln_beta_tails;
use super::power::ln_binomial_term;

/// The number of successes in `n` independent trials that each succeed with probability `p`. Tails hold to 3e-13.
///
/// ```
/// use fairhearing::stats::special::Binomial;
/// let guesser = Binomial::new(20, 0.5)?;
/// assert!((guesser.sf(16) - 0.001288).abs() < 5e-7); // 17 or more of 20: 1351/2^20, by hand
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Binomial {
    n: u64,
    p: f64,
}

impl Binomial {
    /// # Errors
    /// [`ParameterError`] where `p` is not between 0 and 1.
    pub fn new(n: u64, p: f64) -> Result<Self, ParameterError> {
        if (0.0..=1.0).contains(&p) {
            return Ok(Self { n, p });
        }
        Err(ParameterError {
            distribution: "the binomial distribution",
            name: "p",
            value: p,
            needed: "it must lie between 0 and 1",
        })
    }

    /// P(X = k).
    pub fn pmf(self, k: u64) -> f64 {
        if k > self.n {
            return 0.0;
        }
        ln_binomial_pmf(k, self.n, self.p).exp()
    }

    /// P(X ≤ k).
    pub fn cdf(self, k: u64) -> f64 {
        self.ln_tails(k).0.exp()
    }

    /// P(X > k).
    pub fn sf(self, k: u64) -> f64 {
        self.ln_tails(k).1.exp()
    }

    fn ln_tails(self, k: u64) -> (f64, f64) {
        if k >= self.n {
            return (0.0, f64::NEG_INFINITY);
        }
        let (a, b) = ((self.n - k) as f64, k as f64 + 1.0);
        let tails = ln_beta_tails(a, b, 1.0 - self.p, self.p);
        (tails.lower, tails.upper)
    }
}

/// ln P(X = k) for k ≤ n.
pub(super) fn ln_binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    match k {
        _ if n == 0 => 0.0,
        0 => n as f64 * (-p).ln_1p(),
        _ if k == n => n as f64 * p.ln(),
        _ => ln_binomial_term(k as f64, (n - k) as f64, p, 1.0 - p),
    }
}
