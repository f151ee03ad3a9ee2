//! Distributions whose tails and quantiles hold to ten digits: normal, t, χ², F, beta, binomial, hypergeometric.
//!
//! The general-purpose crates lose digits, or panic, in tails that small panels and rare errors reach. Each
//! distribution here answers both tails (`cdf`, `sf`), so that none is ever a difference from one, and
//! the continuous ones a `quantile`. All are checked on a grid of another library's values.

mod beta;
mod binomial;
mod chi_squared;
mod fisher;
mod hypergeometric;
mod incomplete;
pub mod normal;
mod power;
mod search;
mod student;

pub use beta::Beta;
pub use binomial::Binomial;
pub use chi_squared::ChiSquared;
pub use fisher::FisherF;
pub use hypergeometric::Hypergeometric;
pub use student::StudentT;

/// A parameter for which the distribution does not exist.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{distribution} has no parameter {name} = {value}: {needed}")]
pub struct ParameterError {
    distribution: &'static str,
    name: &'static str,
    value: f64,
    needed: &'static str,
}

impl ParameterError {
    /// `value` if it is a finite number above zero.
    fn positive(
        distribution: &'static str,
        name: &'static str,
        value: f64,
    ) -> Result<f64, ParameterError> {
        if value.is_finite() && value > 0.0 {
            return Ok(value);
        }
        Err(Self {
            distribution,
            name,
            value,
            needed: "it must be a finite number above 0",
        })
    }
}

/// The natural logarithms of a lower tail P(X ≤ x) and of the upper tail P(X > x).
#[derive(Debug, Clone, Copy)]
struct LnTails {
    lower: f64,
    upper: f64,
}

impl LnTails {
    const AT_START: Self = Self {
        lower: f64::NEG_INFINITY,
        upper: 0.0,
    };
    const AT_END: Self = Self {
        lower: 0.0,
        upper: f64::NEG_INFINITY,
    };
    const UNDEFINED: Self = Self {
        lower: f64::NAN,
        upper: f64::NAN,
    };

    fn from_lower(lower: f64) -> Self {
        let lower = lower.min(0.0);
        Self {
            lower,
            upper: ln_one_minus_exp(lower),
        }
    }

    fn from_upper(upper: f64) -> Self {
        Self::from_lower(upper).swapped()
    }

    fn swapped(self) -> Self {
        Self {
            lower: self.upper,
            upper: self.lower,
        }
    }
}

/// ln(1 − eᵘ) for u ≤ 0, without loss at either end.
fn ln_one_minus_exp(u: f64) -> f64 {
    if u > -std::f64::consts::LN_2 {
        (-u.exp_m1()).ln()
    } else {
        (-u.exp()).ln_1p()
    }
}
