//! The log response ratio: change as a proportion of where the case began.

use super::Better;
use super::ChangeError;
use super::at_least;
use super::mean;
use super::variance;
use crate::stats::special::normal;

/// A ratio on the log scale with its standard error and interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRatio {
    /// The natural logarithm of the ratio; 0 is no change.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Estimate ± z·se.
    pub ci: [f64; 2],
    /// The smallest mean that the earlier phase could show, where the number of items is known.
    pub floor: Option<f64>,
}

impl LogRatio {
    fn new(estimate: f64, se: f64, confidence: f64, floor: Option<f64>) -> Self {
        let half = normal::two_sided(confidence) * se;
        Self {
            estimate,
            se,
            ci: [estimate - half, estimate + half],
            floor,
        }
    }
}

/// Log response ratio: the logarithm of the later mean over the earlier one, corrected for small samples.
///
/// ```text
/// LRR = ln M_B + s_B²/(2 n_B M_B²) − ln M_A − s_A²/(2 n_A M_A²),   V = s_A²/(n_A M_A²) + s_B²/(n_B M_B²)
/// with D items a point: M is at least 1/(2 D n), s² at least 1/(D² n³)
/// ```
///
/// `from`, `to`: at least two points each, on a ratio scale (0 is nothing). `items` D: how many words stand behind a
/// point of a share, 1 for counts; without it a phase whose mean is 0 has no ratio. Turned round where lower is better.
///
/// Pustejovsky (2018), J. Sch. Psychol. 68, 99–112.
///
/// # Errors
/// [`ChangeError::TooFew`] below two points; [`ChangeError::NoRatio`] where a mean is not above 0 and has no floor.
///
/// ```
/// use fairhearing::stats::change::{Better, log_response_ratio};
/// let doubled = log_response_ratio(&[0.2, 0.2], &[0.4, 0.4], Better::Higher, Some(20.0), 0.95)?;
/// assert!((doubled.estimate - 2.0_f64.ln()).abs() < 0.02);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn log_response_ratio(
    from: &[f64],
    to: &[f64],
    better: Better,
    items: Option<f64>,
    confidence: f64,
) -> Result<LogRatio, ChangeError> {
    at_least(2, [from, to])?;
    let before = Floored::new(from, items)?;
    let after = Floored::new(to, items)?;
    let estimate = better.sign() * (after.log_mean() - before.log_mean());
    let se = (before.variance_of_log() + after.variance_of_log()).sqrt();
    let floor = items.map(|items| lowest_mean(items, from.len()));
    Ok(LogRatio::new(estimate, se, confidence, floor))
}

pub(super) fn new_log_ratio(
    estimate: f64,
    se: f64,
    confidence: f64,
    floor: Option<f64>,
) -> LogRatio {
    LogRatio::new(estimate, se, confidence, floor)
}

/// 1/(2 D n).
pub(super) fn lowest_mean(items: f64, points: usize) -> f64 {
    1.0 / (2.0 * items * points as f64)
}

/// 1/(D² n³).
pub(super) fn lowest_variance(items: f64, points: usize) -> f64 {
    1.0 / (items * items * (points as f64).powi(3))
}

/// A phase's mean and variance, lifted to their floors.
struct Floored {
    mean: f64,
    variance: f64,
    points: f64,
}

impl Floored {
    fn new(values: &[f64], items: Option<f64>) -> Result<Self, ChangeError> {
        let points = values.len();
        let (low_mean, low_variance) = items.map_or((0.0, 0.0), |items| {
            (lowest_mean(items, points), lowest_variance(items, points))
        });
        let mean = mean(values).max(low_mean);
        if mean <= 0.0 {
            return Err(ChangeError::NoRatio);
        }
        Ok(Self {
            mean,
            variance: variance(values).max(low_variance),
            points: points as f64,
        })
    }

    fn log_mean(&self) -> f64 {
        self.mean.ln() + self.variance_of_log() / 2.0
    }

    fn variance_of_log(&self) -> f64 {
        self.variance / (self.points * self.mean * self.mean)
    }
}
