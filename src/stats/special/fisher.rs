//! Fisher's F distribution, for any real numbers of degrees of freedom.

use super::LnTails;
use super::ParameterError;
use super::beta::expit;
use super::incomplete::ln_beta_tails;
use super::search::end_of_range;
use super::search::theta_at;

/// F with `df1` and `df2` degrees of freedom, both above 0. Quantiles hold to about 2e-12.
///
/// ```
/// use fairhearing::stats::special::FisherF;
/// let q = FisherF::new(2.0, 5.0)?.quantile(0.95);
/// assert!((q - 5.786).abs() < 5e-4); // any table of F
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct FisherF {
    df1: f64,
    df2: f64,
}

impl FisherF {
    /// # Errors
    /// [`ParameterError`] where `df1` or `df2` is not a finite number above 0.
    pub fn new(df1: f64, df2: f64) -> Result<Self, ParameterError> {
        Ok(Self {
            df1: ParameterError::positive("the F distribution", "df1", df1)?,
            df2: ParameterError::positive("the F distribution", "df2", df2)?,
        })
    }

    /// P(F ≤ x).
    pub fn cdf(self, x: f64) -> f64 {
        self.at(x).lower.exp()
    }

    /// P(F > x).
    pub fn sf(self, x: f64) -> f64 {
        self.at(x).upper.exp()
    }

    /// The x with P(F ≤ x) = p; 0 at 0, infinite at 1, not a number outside.
    pub fn quantile(self, p: f64) -> f64 {
        if let Some(end) = end_of_range(p, 0.0, f64::INFINITY) {
            return end;
        }
        // θ = ln(df1·F/df2), the logit of the beta variate.
        let theta = theta_at(p, |theta| self.tails(expit(theta), expit(-theta)));
        (theta + (self.df2 / self.df1).ln()).exp()
    }

    fn at(self, x: f64) -> LnTails {
        if x.is_nan() {
            return LnTails::UNDEFINED;
        }
        if x <= 0.0 {
            return LnTails::AT_START;
        }
        let theta = (self.df1 / self.df2).ln() + x.ln();
        if theta.abs() > 30.0 {
            return self.tails(expit(theta), expit(-theta));
        }
        let ratio = self.df1 * x / self.df2;
        self.tails(ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))
    }

    fn tails(self, x: f64, y: f64) -> LnTails {
        ln_beta_tails(self.df1 / 2.0, self.df2 / 2.0, x, y)
    }
}
