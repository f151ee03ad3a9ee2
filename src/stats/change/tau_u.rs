//! Tau-U: nonoverlap less the trend that the baseline had already.

use super::Better;
use super::ChangeError;
use super::at_least;

/// Tau-U = (`S_AB` − `S_A`)/(mn): better less worse pairs between phases, less those within the first, in time order.
///
/// `from`: m points, `to`: n points, both in order of time. It can pass 1, for a falling baseline adds to it, and
/// depends on m and n: it estimates no parameter and has no standard error, so no interval is given.
///
/// Parker, Vannest, Davis & Sauber (2011), Behav. Ther. 42, 284–299, the form corrected for the baseline's trend only.
///
/// # Errors
/// [`ChangeError::TooFew`] where a phase is empty.
///
/// ```
/// use fairhearing::stats::change::{Better, tau_u};
/// let rising = [1.0, 2.0, 3.0, 4.0, 5.0];
/// let later = [6.0, 7.0, 8.0, 9.0, 10.0];
/// // A pure trend: Tarlow (2017), Behav. Modif. 41, 427–467, prints .6
/// assert!((tau_u(&rising, &later, Better::Higher)? - 0.6).abs() < 1e-12);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn tau_u(from: &[f64], to: &[f64], better: Better) -> Result<f64, ChangeError> {
    at_least(1, [from, to])?;
    let between: f64 = from
        .iter()
        .flat_map(|a| to.iter().map(move |b| sign(b - a)))
        .sum();
    let within: f64 = from
        .iter()
        .enumerate()
        .flat_map(|(place, a)| {
            from.iter()
                .skip(place + 1)
                .map(move |later| sign(later - a))
        })
        .sum();
    Ok(better.sign() * (between - within) / (from.len() as f64 * to.len() as f64))
}

fn sign(difference: f64) -> f64 {
    if difference > 0.0 {
        1.0
    } else if difference < 0.0 {
        -1.0
    } else {
        0.0
    }
}
