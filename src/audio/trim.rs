//! Where a word begins and ends: told from the recording's own noise floor, in bands, and never from
//! its loudest frame, since a weak fricative 30 dB under its vowel is the very thing to be judged.
//!
//! The rule, in order; in doubt more is kept:
//! 1. Digital padding (one value repeated) at either end is no recording and is left out.
//! 2. The floor of a band is the power that its quietest twentieth of the time stays under, over
//!    50 ms, and never under what the sample's own steps make.
//! 3. A frame is active where any band lies 5 dB over its floor for 50 ms (8 dB in the lowest band,
//!    where rooms rumble), or 10 dB (13 dB) over it for one frame: a burst.
//! 4. A stretch of active frames shorter than 100 ms and more than 400 ms away from all else is a
//!    click and no speech (a stop's closure is shorter). Everything else belongs to the word.
//! 5. Where no band rises 10 dB over its floor, the floor cannot be told and everything is kept. What
//!    would be cut is kept, too, where its spectrum is a fricative's and not a room's: stronger above
//!    3.5 kHz than around 1 kHz by 6 dB or more a hertz (a recording that begins within its /s/).
#![expect(
    clippy::indexing_slicing,
    reason = "bands are counted by a constant and frames by the spectrum that made them"
)]

use std::ops::Range;

use super::spectrum::FRAME;
use super::spectrum::HOP;
use super::spectrum::N_BANDS;
use super::spectrum::Spectrum;
use super::spectrum::smooth;
use super::spectrum::width_hz;

/// How far over its floor a band must lie for 50 ms, as a ratio of powers: 8 dB, else 5 dB.
const SUSTAINED: [f64; N_BANDS] = [6.31, 3.16, 3.16, 3.16, 3.16, 3.16];
/// How far over its floor a band must lie for one frame: 13 dB, else 10 dB.
const BURST: [f64; N_BANDS] = [20.0, 10.0, 10.0, 10.0, 10.0, 10.0];
/// The least rise of any band over its floor from which there is a floor at all: 10 dB.
const CONTRAST: f64 = 10.0;
/// Active stretches shorter than this many frames may be clicks.
const CLICK_FRAMES: usize = 10;
/// A click further away than this many frames is left out.
const CLICK_GAP_FRAMES: usize = 40;
/// Density above 3.5 kHz over that around 1 kHz from which a sound is a fricative's: 6 dB.
const FRICATIVE_TILT: f64 = 4.0;

/// Where the word lies in a recording.
pub(super) struct Word {
    /// Samples from the word's onset to its end.
    pub(super) span: Range<usize>,
    /// Mean square of the noise over all bands; `None` where it cannot be told.
    pub(super) noise: Option<f64>,
    /// The longest pause inside the word, in samples.
    pub(super) longest_pause: usize,
}

/// Finds the word in a recording of `n_samples` at 48 kHz. `step`: between two neighbouring samples
/// of the source.
pub(super) fn find(spectrum: &Spectrum, n_samples: usize, step: f64) -> Word {
    let bands: Vec<Vec<f64>> = (0..N_BANDS).map(|band| spectrum.band(band)).collect();
    let smoothed: Vec<Vec<f64>> = bands.iter().map(|band| smooth(band)).collect();
    let floor: [f64; N_BANDS] = std::array::from_fn(|band| floor(&smoothed[band], band, step));
    let everything = || Word {
        span: 0..n_samples,
        noise: None,
        longest_pause: 0,
    };
    let rises = (0..N_BANDS).any(|band| {
        let peak = smoothed[band].iter().fold(0.0, |a: f64, b| a.max(*b));
        peak > floor[band] * CONTRAST
    });
    if !rises {
        return everything();
    }
    let active: Vec<bool> = (0..spectrum.bands.len())
        .map(|frame| {
            (0..N_BANDS).any(|band| {
                smoothed[band][frame] > floor[band] * SUSTAINED[band]
                    || bands[band][frame] > floor[band] * BURST[band]
            })
        })
        .collect();
    let stretches = without_clicks(stretches(&active));
    let (Some(first), Some(last)) = (stretches.first(), stretches.last()) else {
        return everything();
    };
    let mut span = first.start * HOP..((last.end - 1) * HOP + FRAME).min(n_samples);
    if last.end == active.len() {
        span.end = n_samples;
    }
    if is_fricative(&bands, 0..first.start, step) {
        span.start = 0;
    }
    if is_fricative(&bands, last.end..active.len(), step) {
        span.end = n_samples;
    }
    let pause = stretches
        .windows(2)
        .map(|two| two[1].start - two[0].end)
        .max()
        .unwrap_or(0);
    Word {
        span,
        noise: Some(floor.iter().sum()),
        longest_pause: pause * HOP,
    }
}

/// The samples without the digital padding at either end: runs of one repeated value of 10 ms or
/// more.
pub(super) fn recorded(samples: &[f64]) -> Range<usize> {
    let same = |a: &f64, b: &f64| a.to_bits() == b.to_bits();
    let run = |mut it: Box<dyn Iterator<Item = &f64> + '_>| {
        let Some(first) = it.next() else { return 0 };
        let len = 1 + it.take_while(|sample| same(sample, first)).count();
        if len >= HOP { len } else { 0 }
    };
    let start = run(Box::new(samples.iter()));
    let end = samples.len() - run(Box::new(samples.iter().rev()));
    if start < end {
        start..end
    } else {
        0..samples.len()
    }
}

/// The power that the quietest twentieth of a band's 50 ms means stays under, at least five of them.
fn floor(smoothed: &[f64], band: usize, step: f64) -> f64 {
    let whole = smoothed
        .get(2..smoothed.len().saturating_sub(2))
        .unwrap_or_default();
    let mut sorted = if whole.is_empty() {
        smoothed.to_vec()
    } else {
        whole.to_vec()
    };
    sorted.sort_by(f64::total_cmp);
    let rank = (sorted.len() / 20).max(4).min(sorted.len() - 1);
    sorted[rank].max(quantisation(band, step))
}

/// Mean square that rounding to `step` leaves in a band: step²/12, spread evenly up to 24 kHz.
fn quantisation(band: usize, step: f64) -> f64 {
    step * step / 12.0 * width_hz(band) / 24_000.0
}

/// Runs of active frames.
fn stretches(active: &[bool]) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    for (frame, _) in active.iter().enumerate().filter(|(_, active)| **active) {
        match found.last_mut() {
            Some(last) if last.end == frame => last.end = frame + 1,
            _ => found.push(frame..frame + 1),
        }
    }
    found
}

/// The stretches that are long enough to be speech, and all that lie near them. All of them where
/// none is long enough.
fn without_clicks(stretches: Vec<Range<usize>>) -> Vec<Range<usize>> {
    let is_speech = |s: &Range<usize>| s.len() > CLICK_FRAMES;
    let (Some(mut first), Some(mut last)) = (
        stretches.iter().position(is_speech),
        stretches.iter().rposition(is_speech),
    ) else {
        return stretches;
    };
    while first > 0 && stretches[first].start - stretches[first - 1].end <= CLICK_GAP_FRAMES {
        first -= 1;
    }
    while last + 1 < stretches.len()
        && stretches[last + 1].start - stretches[last].end <= CLICK_GAP_FRAMES
    {
        last += 1;
    }
    stretches[first..=last].to_vec()
}

/// Whether the mean spectrum of these frames is a fricative's and not a room's.
fn is_fricative(bands: &[Vec<f64>], frames: Range<usize>, step: f64) -> bool {
    if frames.is_empty() {
        return false;
    }
    let density = |band: usize| {
        let part = &bands[band][frames.clone()];
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        mean.max(quantisation(band, step)) / width_hz(band)
    };
    density(3).max(density(4)) > FRICATIVE_TILT * density(1)
}
