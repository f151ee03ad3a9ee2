//! Student's t distribution, for any real number of degrees of freedom.

use std::f64::consts::TAU;

use super::LnTails;
use super::ParameterError;
use super::beta::expit;
use super::incomplete::ln_beta_tails;
use super::normal;
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
        if let Some(t) = self.near_normal(tail) {
            return if p < 0.5 { -t } else { t };
        }
        let half = |theta: f64| -> LnTails {
            ln_beta_tails(self.df / 2.0, 0.5, expit(-theta), expit(theta)).swapped()
        };
        // θ = ln(t²/df) rises with |t|; the mass within ±t is its lower tail.
        let theta = theta_at_upper(2.0 * tail, half);
        let t = (0.5 * (theta + self.df.ln())).exp();
        if p < 0.5 { -t } else { t }
    }

    /// The t with P(T > t) = `tail` by the expansion in powers of 1/df (Abramowitz & Stegun 1964, 26.7.5) and steps of
    /// Newton's, of which it takes two or three; nothing in the tails and for few degrees of freedom.
    ///
    /// The bracketed search that does for all needs some forty values of a continued fraction, long where df is large.
    fn near_normal(self, tail: f64) -> Option<f64> {
        if self.df < 4.0 || !(1e-4..0.25).contains(&tail) {
            return None;
        }
        let z = -normal::quantile(tail);
        let (n, z2) = (self.df, z * z);
        let g1 = (z2 + 1.0) / 4.0;
        let g2 = ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
        let g3 = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
        let g4 = ((((79.0 * z2 + 776.0) * z2 + 1482.0) * z2 - 1920.0) * z2 - 945.0) / 92_160.0;
        // Γ((n + 1)/2)/(Γ(n/2) √(n/2)) in powers of 1/n: the slope of a small step needs no more.
        let gammas = 1.0 + (-0.25 + (0.03125 + (0.039_062_5 - 0.010_253_906_25 / n) / n) / n) / n;
        let density = |t: f64| gammas / TAU.sqrt() * (-(n + 1.0) / 2.0 * (t * t / n).ln_1p()).exp();
        let mut t = z * (1.0 + (g1 + (g2 + (g3 + g4 / n) / n) / n) / n);
        if n >= 10_000.0 {
            // The next term is below 1e-17, and the tails themselves are not known as well.
            return Some(t);
        }
        for _ in 0..8 {
            let step = (self.beyond(t) - tail) / density(t);
            t += step;
            if step.abs() <= 1e-10 * t {
                return Some(t);
            }
        }
        None
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
