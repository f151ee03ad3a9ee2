//! PND: the share of later points beyond the best earlier one.

use super::Better;
use super::ChangeError;
use super::at_least;

/// PND: the share of the later phase's points that are better than every point of the earlier phase.
///
/// In [0, 1]; a tie with the best earlier point does not count. It hangs on one point and falls as the baseline
/// grows longer, so it estimates no parameter and has no interval. Scruggs, Mastropieri & Casto (1987),
/// Remedial Spec. Educ. 8(2), 24–33.
///
/// # Errors
/// [`ChangeError::TooFew`] where a phase is empty.
///
/// ```
/// use fairhearing::stats::change::{Better, pnd};
/// let before = [20.0, 20.0, 26.0, 25.0, 22.0, 23.0];
/// let after = [28.0, 25.0, 24.0, 27.0, 30.0, 30.0, 29.0];
/// // Parker, Vannest & Davis (2011): 5/7
/// assert!((pnd(&before, &after, Better::Higher)? - 5.0 / 7.0).abs() < 1e-12);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn pnd(from: &[f64], to: &[f64], better: Better) -> Result<f64, ChangeError> {
    at_least(1, [from, to])?;
    let sign = better.sign();
    let best = from
        .iter()
        .map(|a| sign * a)
        .fold(f64::NEG_INFINITY, f64::max);
    let beyond = to.iter().filter(|b| sign * **b > best).count();
    Ok(beyond as f64 / to.len() as f64)
}
