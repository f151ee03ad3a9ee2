//! Reliable change: a test's reliability turned into the smallest change that is not noise.

use super::ChangeError;
use crate::stats::special::normal;

/// A score's spread between people and its reliability, as a manual prints them.
///
/// ```text
/// SEM = SD √(1 − r),  s_diff = √2·SEM,  MDC = z·s_diff,  RCI = (post − pre)/s_diff
/// ```
///
/// For outcomes that come as one number with a published reliability; where single judgements are at hand the
/// `mdc95` of their own interval says more. Which SD and which r matters: state both. Jacobson & Truax (1991),
/// J. Consult. Clin. Psychol. 59, 12–19; Weir (2005), J. Strength Cond. Res. 19, 231–240.
///
/// ```
/// use fairhearing::stats::change::Reliability;
/// let test = Reliability::new(7.5, 0.80)?; // the worked example of Jacobson & Truax: 4.74 and 3.16
/// assert!((test.se_of_difference() - 4.74).abs() < 0.005);
/// assert!((test.reliable_change(32.5, 47.5)? - 3.16).abs() < 0.005);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reliability {
    sd: f64,
    reliability: f64,
}

impl Reliability {
    /// `sd` in the score's unit, `reliability` from 0 to 1.
    ///
    /// # Errors
    /// [`ChangeError::Reliability`] outside that range.
    pub fn new(sd: f64, reliability: f64) -> Result<Self, ChangeError> {
        if sd.is_finite() && sd >= 0.0 && (0.0..=1.0).contains(&reliability) {
            return Ok(Self { sd, reliability });
        }
        Err(ChangeError::Reliability)
    }

    /// The standard error of measurement, in the score's unit.
    pub fn sem(self) -> f64 {
        self.sd * (1.0 - self.reliability).sqrt()
    }

    /// The standard error of a difference of two scores.
    pub fn se_of_difference(self) -> f64 {
        std::f64::consts::SQRT_2 * self.sem()
    }

    /// The minimal detectable change at a confidence level.
    pub fn minimal_detectable_change(self, confidence: f64) -> f64 {
        normal::two_sided(confidence) * self.se_of_difference()
    }

    /// The reliable change index: the change in standard errors; beyond ±1.96 it is called reliable.
    ///
    /// # Errors
    /// [`ChangeError::Reliability`] where the error is 0, so that the index is undefined and not infinite.
    pub fn reliable_change(self, before: f64, after: f64) -> Result<f64, ChangeError> {
        let error = self.se_of_difference();
        if error <= 0.0 {
            return Err(ChangeError::Reliability);
        }
        Ok((after - before) / error)
    }
}
