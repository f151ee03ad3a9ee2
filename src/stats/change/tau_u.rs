//! Tau-U: nonoverlap less the trend that the baseline had already.

use super::Better;
use super::ChangeError;
use super::at_least;
use super::sorted::Beside;
use super::sorted::Met;
use super::sorted::Sorted;

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
    let (mut earlier, mut later) = (from.to_vec(), to.to_vec());
    let (earlier, later) = (Sorted::new(&mut earlier), Sorted::new(&mut later));
    let higher =
        |Beside { below, equal }: Beside, of: usize| (of - below - equal) as f64 - below as f64;
    let between: f64 = from
        .iter()
        .map(|a| higher(later.beside(*a), to.len()))
        .sum();
    let mut met = Met::none_of(from.len());
    let mut within = 0.0;
    for (before, a) in from.iter().enumerate() {
        let Beside { below, equal } = earlier.beside(*a);
        let met_below = met.below(below);
        let beside = Beside {
            below: met_below,
            equal: met.below(below + equal) - met_below,
        };
        within -= higher(beside, before);
        met.meet(below);
    }
    Ok(better.sign() * (between - within) / (from.len() as f64 * to.len() as f64))
}
