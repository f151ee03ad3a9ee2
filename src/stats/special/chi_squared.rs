//! The χ² distribution, for any real number of degrees of freedom.

use super::LnTails;
use super::ParameterError;
use super::incomplete::ln_gamma_tails;
use super::search::end_of_range;
use super::search::theta_at;

/// χ² with `df` > 0 degrees of freedom. Quantiles hold to about 4e-15.
///
/// ```
/// use fairhearing::stats::special::ChiSquared;
/// let q = ChiSquared::new(1.0)?.quantile(0.95);
/// assert!((q - 3.841).abs() < 5e-4); // any table of χ²
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct ChiSquared {
    df: f64,
}

impl ChiSquared {
    /// # Errors
    /// [`ParameterError`] where `df` is not a finite number above 0.
    pub fn new(df: f64) -> Result<Self, ParameterError> {
        let df = ParameterError::positive("the χ² distribution", "df", df)?;
        Ok(Self { df })
    }

    /// P(X ≤ x).
    pub fn cdf(self, x: f64) -> f64 {
        self.tails(x).lower.exp()
    }

    /// P(X > x).
    pub fn sf(self, x: f64) -> f64 {
        self.tails(x).upper.exp()
    }

    /// The x with P(X ≤ x) = p; 0 at 0, infinite at 1, not a number outside.
    pub fn quantile(self, p: f64) -> f64 {
        if let Some(end) = end_of_range(p, 0.0, f64::INFINITY) {
            return end;
        }
        theta_at(p, |theta| self.tails(theta.exp())).exp()
    }

    fn tails(self, x: f64) -> LnTails {
        ln_gamma_tails(self.df / 2.0, x / 2.0)
    }
}
