//! The beta distribution: exact (Clopper–Pearson) limits, and the root of t, F and the binomial.

use super::LnTails;
use super::ParameterError;
use super::incomplete::ln_beta_tails;
use super::search::end_of_range;
use super::search::theta_at;

/// Beta(a, b) on [0, 1], a and b above 0. Quantiles hold to about 2e-12.
///
/// ```
/// use fairhearing::stats::special::Beta;
/// let beta = Beta::new(2.0, 3.0)?;
/// assert!((beta.cdf(0.5) - 0.6875).abs() < 1e-14); // 1 − 5/16, by hand
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Beta {
    a: f64,
    b: f64,
}

impl Beta {
    /// # Errors
    /// [`ParameterError`] where `a` or `b` is not a finite number above 0.
    pub fn new(a: f64, b: f64) -> Result<Self, ParameterError> {
        Ok(Self {
            a: ParameterError::positive("the beta distribution", "a", a)?,
            b: ParameterError::positive("the beta distribution", "b", b)?,
        })
    }

    /// P(X ≤ x) = `I_x(a, b)`.
    pub fn cdf(self, x: f64) -> f64 {
        self.tails(x, 1.0 - x).lower.exp()
    }

    /// P(X > x).
    pub fn sf(self, x: f64) -> f64 {
        self.tails(x, 1.0 - x).upper.exp()
    }

    /// The x with P(X ≤ x) = p; 0 and 1 at the ends, not a number outside them.
    pub fn quantile(self, p: f64) -> f64 {
        if let Some(end) = end_of_range(p, 0.0, 1.0) {
            return end;
        }
        let theta = theta_at(p, |theta| self.tails(expit(theta), expit(-theta)));
        expit(theta)
    }

    fn tails(self, x: f64, y: f64) -> LnTails {
        ln_beta_tails(self.a, self.b, x, y)
    }
}

/// 1/(1 + e^(−θ)).
pub(super) fn expit(theta: f64) -> f64 {
    if theta >= 0.0 {
        1.0 / (1.0 + (-theta).exp())
    } else {
        theta.exp() / (1.0 + theta.exp())
    }
}
