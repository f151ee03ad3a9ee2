//! Student's t distribution, for any real number of degrees of freedom.

use super::LnTails;
use super::ParameterError;
use super::beta::expit;
use super::incomplete::ln_beta_tails;
use super::search::end_of_range;
use super::search::theta_at;

/// Student's t with `df` > 0 degrees of freedom. Quantiles hold to about 4e-13, for df of 0.5 to 1e5 and more.
///
/// ```
/// use fairhearing::stats::special::StudentT;
/// let t = StudentT::new(10.0)?.quantile(0.975);
/// assert!((t - 2.228).abs() < 5e-4); // any table of t
/// # Ok::<(), fairhearing::stats::special::ParameterError>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct StudentT {
    df: f64,
}

impl StudentT {
    /// # Errors
    /// [`ParameterError`] where `df` is not a finite number above 0.
    pub fn new(df: f64) -> Result<Self, ParameterError> {
        let df = ParameterError::positive("the t distribution", "df", df)?;
        Ok(Self { df })
    }

    /// P(T ≤ t).
    pub fn cdf(self, t: f64) -> f64 {
        if t > 0.0 {
            1.0 - self.beyond(t)
        } else {
            self.beyond(t)
        }
    }

    /// P(T > t).
    pub fn sf(self, t: f64) -> f64 {
        self.cdf(-t)
    }

    /// The t with P(T ≤ t) = p; infinite at 0 and 1, not a number outside them.
    pub fn quantile(self, p: f64) -> f64 {
        if let Some(end) = end_of_range(p, f64::NEG_INFINITY, f64::INFINITY) {
            return end;
        }
        let tail = p.min(1.0 - p);
        if tail >= 0.5 {
            return 0.0;
        }
        let half = |theta: f64| -> LnTails {
            ln_beta_tails(self.df / 2.0, 0.5, expit(-theta), expit(theta)).swapped()
        };
        // θ = ln(t²/df) rises with |t|; the mass within ±t is its lower tail.
        let theta = theta_at_upper(2.0 * tail, half);
        let t = (0.5 * (theta + self.df.ln())).exp();
        if p < 0.5 { -t } else { t }
    }

    /// P(T > |t|): one tail.
    fn beyond(self, t: f64) -> f64 {
        let square = t * t;
        let (x, y) = if square.is_infinite() {
            (self.df / t.abs() / t.abs(), 1.0)
        } else {
            (self.df / (self.df + square), square / (self.df + square))
        };
        0.5 * ln_beta_tails(self.df / 2.0, 0.5, x, y).lower.exp()
    }
}

/// The θ at which the upper tail is `q`, where `q` may be far too small to be taken from one.
fn theta_at_upper(q: f64, tails: impl Fn(f64) -> LnTails) -> f64 {
    -theta_at(q, |theta| tails(-theta).swapped())
}
