//! How loud a word is, and how high its peaks reach between the samples.
//!
//! ITU-R BS.1770 integrates over 400 ms blocks behind two gates; many words are shorter than one
//! block, and silence around a word shifts every ungated measure. So the K-weighted level is taken
//! without gates over the active part alone, from the first to the last frame within 25 dB of the
//! loudest. On a steady sound this is the standard's own figure. The 25 dB serve measuring alone;
//! what is kept of a word is decided in `trim`.

use std::ops::Range;

use ebur128::EbuR128;
use ebur128::Mode;

use super::spectrum::FRAME;
use super::spectrum::HOP;
use super::spectrum::Spectrum;

/// Frames this far under the loudest still belong to the active part: 25 dB as a ratio of powers.
const ACTIVE: f64 = 316.0;

/// The K-weighted level of the whole of `samples` without gates, in LUFS: `−0.691 + 10 lg z`, with
/// `z` the mean square behind the K filter (ITU-R BS.1770, annex 1). −∞ for silence.
///
/// One channel: a full-scale 997 Hz sine reads −3.01. Resolution of the span: 1 ms.
pub fn k_weighted_lufs(samples: &[f64], rate_hz: u32) -> f64 {
    let n_ms = samples.len() as u64 * 1000 / u64::from(rate_hz.max(1));
    let window_ms = u32::try_from(n_ms).unwrap_or(u32::MAX);
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

/// The part of the word from its first to its last frame within 25 dB of the loudest.
pub(super) fn active_span(samples: &[f64]) -> Range<usize> {
    let power = Spectrum::of(samples).total();
    let loudest = power.iter().fold(0.0, |a: f64, b| a.max(*b));
    let is_active = |p: &f64| *p * ACTIVE >= loudest;
    let first = power.iter().position(is_active).unwrap_or(0);
    let last = power.iter().rposition(is_active).unwrap_or(0);
    first * HOP..(last * HOP + FRAME).min(samples.len())
}

/// An amplitude ratio in decibels: `20 lg r`.
pub(super) fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Decibels as an amplitude ratio.
pub(super) fn ratio(decibels: f64) -> f64 {
    10_f64.powf(decibels / 20.0)
}
