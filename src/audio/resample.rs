//! Any sample rate to 48 kHz, without moving the sound by a fraction of a sample.

use audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::Fft;
use rubato::FixedSync;
use rubato::Resampler;
use rubato::WindowFunction;

use super::prepare::PrepareError;
use super::prepare::RATE_HZ;

/// One channel at `rate_hz` as one channel at 48 kHz, of `round(n · 48000 / rate)` samples.
///
/// A band-limited resampler in the frequency domain. Its block is an even multiple of
/// `rate / gcd(rate, 48000)`: with any other block the result lies half a sample late.
///
/// # Errors
/// [`PrepareError::Rate`] where the resampler does not take the rate.
pub(super) fn to_48_khz(mono: Vec<f64>, rate_hz: u32) -> Result<Vec<f64>, PrepareError> {
    if rate_hz == RATE_HZ || mono.is_empty() {
        return Ok(mono);
    }
    let refused = |error: &dyn std::fmt::Display| PrepareError::Rate {
        rate_hz,
        detail: error.to_string(),
    };
    let n = mono.len();
    let (from, to) = (index(rate_hz), index(RATE_HZ));
    let unit = 2 * (from / gcd(from, to));
    let block = unit * 1024_usize.div_ceil(unit);
    let window = WindowFunction::BlackmanHarris2;
    let mut resampler = Fft::<f64>::new_custom(from, to, block, 1, 1, window, FixedSync::Both)
        .map_err(|error| refused(&error))?;
    let channels = [mono];
    let input = SequentialSliceOfVecs::new(&channels[..], 1, n).map_err(|error| refused(&error))?;
    let mut out = resampler
        .process_all(&input, n, None)
        .map_err(|error| refused(&error))?
        .take_data();
    out.resize((n * to + from / 2) / from, 0.0);
    Ok(out)
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn index(rate_hz: u32) -> usize {
    usize::try_from(rate_hz).unwrap_or(usize::MAX)
}
