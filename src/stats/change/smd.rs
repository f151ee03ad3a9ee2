//! The standardised mean difference within a case.

use super::Better;
use super::ChangeError;
use super::at_least;
use super::mean;
use super::variance;
use crate::stats::special::normal;

/// A standardised difference, corrected for small samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smd {
    /// g = J·d.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// g ± z·se.
    pub ci: [f64; 2],
}

/// The difference of means in standard deviations of the baseline.
///
/// ```text
/// d = (M_B − M_A)/s_A,  g = J d,  J = 1 − 3/(4ν − 1),  ν = m − 1
/// se = J √(1/m + s_B²/(n s_A²) + g²/(2ν))
/// ```
///
/// `from`: m points, `to`: n points, at least three in the baseline (J is 0 or below with two) and two later. Not comparable with a group's d: it
/// is scaled by one child's good and bad days. Gingerich (1984), J. Appl. Behav. Sci. 20, 71–79; J: Hedges (1981),
/// J. Educ. Stat. 6, 107–128; se: Pustejovsky (2018) by the delta method.
///
/// # Errors
/// [`ChangeError::TooFew`], or [`ChangeError::Constant`] where the baseline does not vary.
///
/// ```
/// use fairhearing::stats::change::{Better, smd_baseline};
/// let smd = smd_baseline(&[1.0, 2.0, 3.0, 4.0, 5.0], &[6.0, 7.0, 8.0, 9.0, 10.0], Better::Higher, 0.95)?;
/// assert!((smd.estimate - 0.8 * 5.0 / 2.5_f64.sqrt()).abs() < 1e-12); // by hand
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn smd_baseline(
    from: &[f64],
    to: &[f64],
    better: Better,
    confidence: f64,
) -> Result<Smd, ChangeError> {
    at_least(2, [from, to])?;
    at_least(3, [from, from])?;
    let (m, n) = (from.len() as f64, to.len() as f64);
    let scale = variance(from);
    let sampling = 1.0 / m + variance(to) / (n * scale);
    standardised(from, to, better, confidence, scale, m - 1.0, sampling)
}

/// The difference of means in standard deviations within phases, pooled over both.
///
/// ```text
/// s² = [(m − 1)s_A² + (n − 1)s_B²]/ν,  ν = m + n − 2,  se = J √(1/m + 1/n + g²/(2ν))
/// ```
///
/// As [`smd_baseline`] otherwise; at least two points in each phase.
///
/// # Errors
/// [`ChangeError::TooFew`], or [`ChangeError::Constant`] where neither phase varies.
pub fn smd_pooled(
    from: &[f64],
    to: &[f64],
    better: Better,
    confidence: f64,
) -> Result<Smd, ChangeError> {
    at_least(2, [from, to])?;
    let (m, n) = (from.len() as f64, to.len() as f64);
    let df = m + n - 2.0;
    let scale = ((m - 1.0) * variance(from) + (n - 1.0) * variance(to)) / df;
    standardised(from, to, better, confidence, scale, df, 1.0 / m + 1.0 / n)
}

fn standardised(
    from: &[f64],
    to: &[f64],
    better: Better,
    confidence: f64,
    scale: f64,
    df: f64,
    sampling: f64,
) -> Result<Smd, ChangeError> {
    if scale <= 1e-18 {
        return Err(ChangeError::Constant);
    }
    let j = 1.0 - 3.0 / (4.0 * df - 1.0);
    let g = j * better.sign() * (mean(to) - mean(from)) / scale.sqrt();
    let se = j * (sampling + g * g / (2.0 * df)).sqrt();
    let half = normal::two_sided(confidence) * se;
    Ok(Smd {
        estimate: g,
        se,
        ci: [g - half, g + half],
    })
}
