//! How loud a word is, and how high its peaks reach between the samples.
//!
//! ITU-R BS.1770 integrates over 400 ms blocks behind two gates; many words are shorter than one
//! block, and silence around a word shifts every ungated measure. So the K-weighted level is taken
//! without gates over the active part alone, from the first to the last 5 ms within 25 dB of the
//! loudest 20. On a steady sound this is the standard's own figure. The 25 dB serve measuring alone;
//! what is kept of a word is decided in `trim`.

use std::ops::Range;

use ebur128::EbuR128;
use ebur128::Mode;

/// Samples a block: 5 ms at 48 kHz.
const BLOCK: usize = 240;
/// Blocks this far under the loudest still belong to the active part: 25 dB as a ratio of powers.
const ACTIVE: f64 = 316.0;

/// The K-weighted level of the whole of `samples` without gates, in LUFS: `−0.691 + 10 lg z`, with
/// `z` the mean square behind the K filter (ITU-R BS.1770, annex 1). −∞ for silence.
///
/// One channel: a full-scale 997 Hz sine reads −3.01. Resolution of the span: 1 ms.
pub fn k_weighted_lufs(samples: &[f64], rate_hz: u32) -> f64 {
    let n_ms = samples.len() as u64 * 1000 / u64::from(rate_hz.max(1));
    let window_ms = u32::try_from(n_ms).unwrap_or(u32::MAX);
    if window_ms == 0 {
        return f64::NEG_INFINITY;
    }
    let measure = || {
        let mut meter = EbuR128::new(1, rate_hz, Mode::M)?;
        meter.set_max_window(window_ms.max(400))?;
        meter.add_frames_f64(samples)?;
        meter.loudness_window(window_ms)
    };
    measure().unwrap_or(f64::NEG_INFINITY)
}

/// The highest peak between the samples, in dB relative to full scale (ITU-R BS.1770, annex 2, by
/// oversampling). −∞ for silence.
pub fn true_peak_dbtp(samples: &[f64], rate_hz: u32) -> f64 {
    let measure = || {
        let mut meter = EbuR128::new(1, rate_hz, Mode::TRUE_PEAK)?;
        meter.add_frames_f64(samples)?;
        meter.true_peak(0)
    };
    measure().map_or(f64::NEG_INFINITY, decibels)
}

/// The part of the word from its first to its last 5 ms within 25 dB of its loudest 20 ms, told
/// behind a high-pass at 120 Hz, so that a rumbling room does not count as speech.
pub(super) fn active_span(samples: &[f64]) -> Range<usize> {
    let power: Vec<f64> = high_passed(samples)
        .chunks(BLOCK)
        .map(|block| block.iter().map(|s| s * s).sum::<f64>() / block.len() as f64)
        .collect();
    let loudest = power
        .windows(4.min(power.len().max(1)))
        .map(|four| four.iter().sum::<f64>() / four.len() as f64)
        .fold(0.0, f64::max);
    let is_active = |p: &f64| *p * ACTIVE >= loudest;
    let first = power.iter().position(is_active).unwrap_or(0);
    let last = power.iter().rposition(is_active).unwrap_or(0);
    first * BLOCK..((last + 1) * BLOCK).min(samples.len())
}

/// A Butterworth high-pass of second order at 120 Hz for 48 kHz (bilinear transform).
fn high_passed(samples: &[f64]) -> Vec<f64> {
    let k = (std::f64::consts::PI * 120.0 / 48_000.0).tan();
    let norm = 1.0 / (1.0 + k * std::f64::consts::SQRT_2 + k * k);
    let (a1, a2) = (
        2.0 * (k * k - 1.0) * norm,
        (1.0 - k * std::f64::consts::SQRT_2 + k * k) * norm,
    );
    let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
    samples
        .iter()
        .map(|&x| {
            let y = norm * (x - 2.0 * x1 + x2) - a1 * y1 - a2 * y2;
            (x2, x1, y2, y1) = (x1, x, y1, y);
            y
        })
        .collect()
}

/// An amplitude ratio in decibels: `20 lg r`.
pub(super) fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Decibels as an amplitude ratio.
pub(super) fn ratio(decibels: f64) -> f64 {
    10_f64.powf(decibels / 20.0)
}
