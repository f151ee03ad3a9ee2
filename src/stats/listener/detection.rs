//! Signal detection on tokens whose answer is known.

use super::super::Undefined;
use super::super::special::normal;

/// How well a listener tells signal from noise, and which way she leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detection {
    /// Sensitivity, in standard deviations; 0 is guessing.
    pub d_prime: f64,
    /// Criterion, in standard deviations; below 0 she leans to 'signal'.
    pub criterion: f64,
}

/// d′ and c of a listener from tokens whose answer is known; 'correct' is the signal.
///
/// ```text
/// H = (hits + ½)/(signals + 1)      F = (false alarms + ½)/(noises + 1)
/// d′ = Φ⁻¹(H) − Φ⁻¹(F)              c = −(Φ⁻¹(H) + Φ⁻¹(F))/2
/// ```
///
/// `hits` of `signals` tokens that are correct were called correct, `false_alarms` of `noises` tokens that are distorted too.
/// The log-linear correction is applied always, or listeners could not be compared; it keeps 0% and 100% finite.
///
/// Macmillan & Creelman (2005), Detection Theory; correction: Hautus (1995), Behav. Res. Methods 27, 46–51.
///
/// ```
/// // 20 of 25 and 10 of 25: the face-recognition example of Macmillan & Creelman, here with the correction
/// let found = fairhearing::stats::listener::signal_detection(20, 25, 10, 25)?;
/// assert!((found.d_prime - 1.0445).abs() < 1e-4);
/// # Ok::<(), fairhearing::stats::Undefined>(())
/// ```
///
/// # Errors
/// [`Undefined::OneKindOfCheck`] unless there are tokens of both kinds.
pub fn signal_detection(
    hits: u32,
    signals: u32,
    false_alarms: u32,
    noises: u32,
) -> Result<Detection, Undefined> {
    if signals == 0 || noises == 0 {
        return Err(Undefined::OneKindOfCheck);
    }
    let corrected = |count: u32, of: u32| (f64::from(count) + 0.5) / (f64::from(of) + 1.0);
    Ok(d_prime_of_rates(
        corrected(hits, signals),
        corrected(false_alarms, noises),
    ))
}

/// d′ and c of a hit rate and a false-alarm rate, each strictly between 0 and 1. Infinite at 0 and 1.
pub fn d_prime_of_rates(hit_rate: f64, false_alarm_rate: f64) -> Detection {
    let (hit, false_alarm) = (
        normal::quantile(hit_rate),
        normal::quantile(false_alarm_rate),
    );
    Detection {
        d_prime: hit - false_alarm,
        criterion: -f64::midpoint(hit, false_alarm),
    }
}
