//! A decoded recording: its samples, where they came from, and its fingerprint.

use sha2::Digest;
use sha2::Sha256;

/// Where a recording's samples came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// The kind of file: WAV, FLAC, MP3, M4A, AAC, AIFF or Ogg.
    pub container: &'static str,
    /// How the samples were coded in it: PCM, FLAC, ALAC, MP3, AAC, Vorbis, A-law, mu-law, ADPCM.
    pub coding: &'static str,
    /// Whether the coding gives back exactly what was recorded into it.
    pub lossless: bool,
    /// Bits a sample, where the coding is lossless and says so.
    pub bits: Option<u32>,
}

/// A decoded recording of one or two channels, all of one length, all samples finite.
///
/// Made by [`decode`](super::decode()) alone, so what it promises holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    channels: Vec<Vec<f64>>,
    rate_hz: u32,
    source: Source,
}

impl Recording {
    pub(super) fn new(channels: Vec<Vec<f64>>, rate_hz: u32, source: Source) -> Self {
        Self {
            channels,
            rate_hz,
            source,
        }
    }

    /// The samples of each channel; full scale is 1.
    pub fn channels(&self) -> &[Vec<f64>] {
        &self.channels
    }

    /// The sample rate in hertz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Where the samples came from.
    pub fn source(&self) -> Source {
        self.source
    }

    /// Frames: samples of one channel.
    pub fn n_frames(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    /// The length in seconds.
    pub fn seconds(&self) -> f64 {
        self.n_frames() as f64 / f64::from(self.rate_hz)
    }

    /// One channel, from which the token is made.
    ///
    /// The mean of both channels, except where that would take from the sound:
    /// - one channel lies 20 dB or more under the other (a plug half in, one microphone off): the
    ///   stronger channel alone, so that the token is not lowered by 6 dB;
    /// - the channels are in opposite phase (correlation under −0.5: a miswired cable): the stronger
    ///   channel alone, since their sum would cancel.
    ///
    /// Two microphones at some distance from each other are averaged, which colours a fricative:
    /// a recording in mono is the better one.
    pub fn mono(&self) -> Vec<f64> {
        let (left, right) = match self.channels.as_slice() {
            [left, right] => (left, right),
            [only, ..] => return only.clone(),
            [] => return Vec::new(),
        };
        let (left_power, right_power) = (power(left), power(right));
        let stronger = if left_power >= right_power {
            left
        } else {
            right
        };
        let weakest = left_power.min(right_power);
        let strongest = left_power.max(right_power);
        let correlation = covariance(left, right) / (left_power * right_power).sqrt();
        if weakest * 100.0 <= strongest || correlation < -0.5 {
            return stronger.clone();
        }
        left.iter()
            .zip(right)
            .map(|(l, r)| f64::midpoint(*l, *r))
            .collect()
    }

    /// SHA-256 of the sound itself: of the sample rate (u32) and the samples of [`Self::mono`]
    /// (64-bit floats), all little-endian.
    ///
    /// The same sound in two lossless files (another label, another container, other tags, more
    /// bits) has the same fingerprint; a lossy copy does not.
    pub fn fingerprint(&self) -> [u8; 32] {
        let mut hash = Sha256::new();
        hash.update(self.rate_hz.to_le_bytes());
        for sample in self.mono() {
            // Adding 0 makes one zero of the two that floats have.
            hash.update((sample + 0.0).to_le_bytes());
        }
        hash.finalize().into()
    }
}

/// Mean square around the mean.
fn power(samples: &[f64]) -> f64 {
    covariance(samples, samples)
}

fn covariance(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().max(1) as f64;
    let (mean_a, mean_b) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    a.iter()
        .zip(b)
        .map(|(x, y)| (x - mean_a) * (y - mean_b))
        .sum::<f64>()
        / n
}
