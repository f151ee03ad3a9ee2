//! Lag-1 autocorrelation: whether neighbouring sessions resemble each other.

use super::ChangeError;
use super::mean;

/// Below this many points it says nothing (ours).
const FEWEST: usize = 10;

/// Lag-1 autocorrelation of the scores about their phase means, pooled over the phases.
///
/// r₁ = `Σ_phases` Σ `e_t·e_{t+1}` / `Σ_phases` Σ `e_t²`; no pair crosses a phase. In about [−1, 1]; biased towards −1/n in short
/// series, which is not corrected: it is shown as a caution, for every other measure treats points as independent.
/// `phases`: the scores of each phase in order of time. Box & Jenkins (1970), ch. 2.
///
/// # Errors
/// [`ChangeError::TooShort`] below 10 points in all; [`ChangeError::Constant`] where no phase varies.
///
/// ```
/// use fairhearing::stats::change::lag1_autocorrelation;
/// let swinging = [0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0];
/// assert!((lag1_autocorrelation(&[&swinging])? + 0.9).abs() < 1e-12); // −9/10, by hand
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn lag1_autocorrelation(phases: &[&[f64]]) -> Result<f64, ChangeError> {
    if phases.iter().map(|phase| phase.len()).sum::<usize>() < FEWEST {
        return Err(ChangeError::TooShort { needed: FEWEST });
    }
    let mut products = 0.0;
    let mut squares = 0.0;
    for phase in phases {
        let centre = mean(phase);
        squares += phase.iter().map(|v| (v - centre).powi(2)).sum::<f64>();
        products += phase
            .iter()
            .zip(phase.iter().skip(1))
            .map(|(now, next)| (now - centre) * (next - centre))
            .sum::<f64>();
    }
    if squares <= 1e-18 {
        return Err(ChangeError::Constant);
    }
    Ok(products / squares)
}
