//! The log odds ratio: change of a share on the scale on which 0 and 1 are infinitely far.

use super::Better;
use super::ChangeError;
use super::at_least;
use super::log_ratio::LogRatio;
use super::log_ratio::lowest_mean;
use super::log_ratio::lowest_variance;
use super::log_ratio::new_log_ratio;
use super::mean;
use super::variance;

/// Log odds ratio: the logarithm of the later odds over the earlier ones, corrected for small samples.
///
/// ```text
/// LOR = g(M_B) − g(M_A),   g(M) = ln M/(1 − M) − (2M − 1) s²/(2 n M²(1 − M)²)
/// V = Σ s²/(n M²(1 − M)²);   M within [1/(2 D n), 1 − 1/(2 D n)], s² at least 1/(D² n³)
/// ```
///
/// `from`, `to`: at least two shares each, in [0, 1]. `items` D: words behind a share. Turned round where lower is
/// better. Pustejovsky (2015), Psychol. Methods 20, 342–359; the floors as for the log response ratio.
///
/// # Errors
/// [`ChangeError::TooFew`] below two points, [`ChangeError::NotAShare`] outside [0, 1].
///
/// ```
/// use fairhearing::stats::change::{Better, log_odds_ratio};
/// let even_to_three = log_odds_ratio(&[0.5, 0.5], &[0.75, 0.75], Better::Higher, 100.0, 0.95)?;
/// assert!((even_to_three.estimate - 3.0_f64.ln()).abs() < 0.01);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn log_odds_ratio(
    from: &[f64],
    to: &[f64],
    better: Better,
    items: f64,
    confidence: f64,
) -> Result<LogRatio, ChangeError> {
    at_least(2, [from, to])?;
    if from
        .iter()
        .chain(to)
        .any(|share| !(0.0..=1.0).contains(share))
    {
        return Err(ChangeError::NotAShare);
    }
    let (before, variance_before) = log_odds(from, items);
    let (after, variance_after) = log_odds(to, items);
    Ok(new_log_ratio(
        better.sign() * (after - before),
        (variance_before + variance_after).sqrt(),
        confidence,
        Some(lowest_mean(items, from.len())),
    ))
}

/// g(M) and its variance.
fn log_odds(shares: &[f64], items: f64) -> (f64, f64) {
    let points = shares.len();
    let floor = lowest_mean(items, points);
    let m = mean(shares).clamp(floor, 1.0 - floor);
    let spread = variance(shares).max(lowest_variance(items, points));
    let variance = spread / (points as f64 * (m * (1.0 - m)).powi(2));
    (
        (m / (1.0 - m)).ln() - (2.0 * m - 1.0) * variance / 2.0,
        variance,
    )
}
