//! What is the matter with a recording, in words: a listener must not pay for a microphone.

use std::fmt;

use super::recording::Recording;
use super::spectrum::Spectrum;

/// The shortest span that can be a word, in seconds (ours).
pub const SHORTEST_WORD_S: f64 = 0.1;
/// The longest span that is likely to be one word, in seconds (ours).
pub const LONGEST_WORD_S: f64 = 3.0;
/// The longest pause that one word has inside, in seconds (ours): stop closures stay well under it.
pub const LONGEST_PAUSE_S: f64 = 0.4;
/// The bandwidth that a sibilant needs, in hertz.
pub const SIBILANT_BANDWIDTH_HZ: f64 = 8_000.0;
/// The level under which a recording is too quiet for its fricatives to be kept, in LUFS (ours).
pub const QUIETEST_LUFS: f64 = -50.0;
/// The least distance of speech from noise, in decibels (ours).
pub const LEAST_SNR_DB: f64 = 20.0;

/// Samples in a row at the end of the range from which a recording is clipped.
const SHORTEST_FLAT_TOP: usize = 3;

/// One thing that is the matter with a token. `Display` says it in a sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum QualityMark {
    /// The recorder ran out of range.
    Clipped {
        /// Samples at the end of the range.
        samples: usize,
    },
    /// Shorter than [`SHORTEST_WORD_S`].
    TooShort {
        /// The word's length in seconds.
        seconds: f64,
    },
    /// Longer than [`LONGEST_WORD_S`].
    TooLong {
        /// The word's length in seconds.
        seconds: f64,
    },
    /// A pause longer than [`LONGEST_PAUSE_S`] inside.
    LongPause {
        /// The pause in seconds.
        seconds: f64,
    },
    /// Nothing above a frequency under [`SIBILANT_BANDWIDTH_HZ`].
    NarrowBand {
        /// The recording's bandwidth in hertz.
        bandwidth_hz: f64,
    },
    /// Coded with loss.
    Lossy {
        /// The coding's name.
        coding: &'static str,
    },
    /// Under [`QUIETEST_LUFS`].
    TooQuiet {
        /// The recording's level in LUFS.
        lufs: f64,
    },
    /// Noise closer to speech than [`LEAST_SNR_DB`].
    Noisy {
        /// The distance of speech from noise in decibels.
        snr_db: f64,
    },
    /// Where the word begins and ends cannot be told from the noise, so everything was kept.
    NoSilence,
    /// Its peaks would pass −1 dBTP at the study's level: it cannot be put into a sealed round.
    ExceedsTruePeak {
        /// The peak at the study's level, in dBTP.
        dbtp: f64,
    },
}

impl fmt::Display for QualityMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Clipped { samples } => write!(
                f,
                "clipped: {samples} samples lie at the end of the recorder's range"
            ),
            Self::TooShort { seconds } => {
                write!(f, "too short: only {seconds:.2} s of sound")
            }
            Self::TooLong { seconds } => {
                write!(f, "too long: {seconds:.1} s of sound, more than one word")
            }
            Self::LongPause { seconds } => write!(
                f,
                "two words in one file? It holds a pause of {seconds:.1} s"
            ),
            Self::NarrowBand { bandwidth_hz } => write!(
                f,
                "narrow: nothing above {:.1} kHz was recorded, and a sibilant needs 8 kHz",
                bandwidth_hz / 1000.0
            ),
            Self::Lossy { coding } => {
                write!(f, "lossy source: {coding} leaves out parts of the sound")
            }
            Self::TooQuiet { lufs } => {
                write!(f, "too quiet: recorded at {lufs:.0} LUFS")
            }
            Self::Noisy { snr_db } => {
                write!(f, "noisy: speech stands only {snr_db:.0} dB over the room")
            }
            Self::NoSilence => write!(
                f,
                "no silence around the word to tell the room from it, so nothing was cut"
            ),
            Self::ExceedsTruePeak { dbtp } => write!(
                f,
                "peaks reach {dbtp:.1} dBTP at the study's level, and -1 dBTP is the most"
            ),
        }
    }
}

/// The kinds of remarks, each by the words with which its sentence begins, and what to listen for.
pub const KINDS: &[(&str, &str)] = &[
    ("clipped", "Listen for a crackle on the loud parts."),
    ("too short", "Listen whether the whole word is there."),
    ("too long", "Listen whether it holds one word alone."),
    (
        "two words in one file?",
        "Listen whether somebody speaks before or after the word.",
    ),
    (
        "narrow",
        "A sharp sound can seem dull for the device's sake: do not judge an /s/ by it.",
    ),
    ("lossy source", "Listen for a watery or metallic hiss."),
    (
        "too quiet",
        "Listen whether the weak sounds are still there.",
    ),
    (
        "noisy",
        "Listen whether the room covers the sound under judgement.",
    ),
    (
        "no silence",
        "Listen whether the word is whole, and what else is heard.",
    ),
    (
        "peaks reach",
        "It cannot be sealed into a round: record the word again, or exclude it.",
    ),
];

/// The kind of a remark, by its sentence.
pub fn kind_of(sentence: &str) -> Option<&'static str> {
    let kinds = KINDS.iter().map(|(kind, _)| *kind);
    kinds.into_iter().find(|kind| sentence.starts_with(kind))
}

/// Samples that lie at the end of the recorder's range: in runs of three or more at one value, the
/// recording's own extreme, which is at least 0.9 of full scale. For a lossy coding, where flat tops
/// come back rounded, every sample at or over full scale, if there are three or more.
pub(super) fn clipped_samples(recording: &Recording) -> usize {
    let of_channel = |channel: &Vec<f64>| {
        if recording.source().lossless {
            flat_tops(channel)
        } else {
            let over = channel.iter().filter(|sample| sample.abs() >= 1.0).count();
            if over >= SHORTEST_FLAT_TOP { over } else { 0 }
        }
    };
    recording
        .channels()
        .iter()
        .map(of_channel)
        .max()
        .unwrap_or(0)
}

fn flat_tops(channel: &[f64]) -> usize {
    let highest = channel.iter().fold(0.0, |a: f64, b| a.max(*b));
    let lowest = channel.iter().fold(0.0, |a: f64, b| a.min(*b));
    let is_top =
        |sample: f64| (highest >= 0.9 && sample >= highest) || (lowest <= -0.9 && sample <= lowest);
    channel
        .chunk_by(|a, b| is_top(*a) && a.to_bits() == b.to_bits())
        .filter(|run| run.len() >= SHORTEST_FLAT_TOP)
        .map(<[f64]>::len)
        .sum()
}

/// The bandwidth of a recording in hertz, in steps of 500: up to where any 50 ms of it stand out by
/// 10 dB from the steps of its samples and lie less than 80 dB under its strongest part; at most
/// half of its sample rate.
pub(super) fn bandwidth_hz(spectrum: &Spectrum, step: f64, rate_hz: u32) -> f64 {
    let strongest = spectrum
        .peak_density
        .iter()
        .fold(0.0, |a: f64, b| a.max(*b));
    let nyquist_hz = f64::from(rate_hz) / 2.0;
    let quantisation = step * step / 12.0 / nyquist_hz;
    let least = (quantisation * 10.0).max(strongest * 1e-8);
    let cells = spectrum
        .peak_density
        .iter()
        .rposition(|density| *density > least);
    (cells.map_or(0, |cell| cell + 1) as f64 * 500.0).min(nyquist_hz)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_remark_is_of_one_kind() {
        let marks = [
            QualityMark::Clipped { samples: 3 },
            QualityMark::TooShort { seconds: 0.05 },
            QualityMark::TooLong { seconds: 4.0 },
            QualityMark::LongPause { seconds: 0.5 },
            QualityMark::NarrowBand {
                bandwidth_hz: 4000.0,
            },
            QualityMark::Lossy { coding: "MP3" },
            QualityMark::TooQuiet { lufs: -60.0 },
            QualityMark::Noisy { snr_db: 9.0 },
            QualityMark::NoSilence,
            QualityMark::ExceedsTruePeak { dbtp: 0.5 },
        ];
        let kinds: Vec<_> = marks
            .iter()
            .filter_map(|mark| kind_of(&mark.to_string()))
            .collect();
        let all: Vec<_> = KINDS.iter().map(|(kind, _)| *kind).collect();
        assert_eq!(kinds, all);
    }
}
