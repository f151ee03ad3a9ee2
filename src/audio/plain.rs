//! A recording as it is, for staff to hear and to see: decoded, and nothing done to it.

use super::prepare::PrepareError;
use super::recording::Recording;
use super::resample;
use super::wav;

/// A recording as a WAV file of one channel at 48 kHz: as loud, as long and as noisy as it was recorded, but without the
/// tags of the file that it came in.
///
/// # Errors
/// [`PrepareError`] where its rate cannot be brought to 48 kHz, or it is too long for a file.
pub fn as_recorded(recording: &Recording) -> Result<Vec<u8>, PrepareError> {
    let samples = resample::to_48_khz(recording.mono(), recording.rate_hz())?;
    wav::write(&wav::to_16_bits(&samples)).map_err(PrepareError::Write)
}

/// The outline of a recording: for each of `columns` stretches of equal length its lowest and its highest sample; full
/// scale is 1.
pub fn outline(recording: &Recording, columns: usize) -> Vec<(f64, f64)> {
    let samples = recording.mono();
    let length = samples.len().div_ceil(columns.max(1)).max(1);
    let stretches = samples.chunks(length);
    stretches
        .map(|stretch| {
            let low = stretch.iter().copied().fold(f64::INFINITY, f64::min);
            let high = stretch.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            (low, high)
        })
        .collect()
}
