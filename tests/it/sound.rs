//! Sounds for the tests: made here from formulas, or read from the fixtures.

use std::f64::consts::TAU;
use std::path::PathBuf;

use fairhearing::audio::Recording;

/// A file of `tests/fixtures/audio`, made by its `make.sh`.
#[track_caller]
pub(crate) fn fixture(name: &str) -> Vec<u8> {
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "tests/fixtures/audio", name]
        .iter()
        .collect();
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A recording of one channel, through a WAV file of 64-bit floats that the decoder reads.
#[track_caller]
pub(crate) fn recording(samples: &[f64], rate_hz: u32) -> Recording {
    fairhearing::audio::decode(&float_wav(&[samples], rate_hz)).expect("the test's sound decodes")
}

/// A WAV file of 64-bit floats, written here byte by byte.
pub(crate) fn float_wav(channels: &[&[f64]], rate_hz: u32) -> Vec<u8> {
    let n_channels = u16::try_from(channels.len()).unwrap();
    let n_bytes = u32::try_from(channels.len() * channels[0].len() * 8).unwrap();
    let mut file = Vec::new();
    file.extend(b"RIFF");
    file.extend((36 + n_bytes).to_le_bytes());
    file.extend(b"WAVEfmt ");
    file.extend(16_u32.to_le_bytes());
    file.extend(3_u16.to_le_bytes());
    file.extend(n_channels.to_le_bytes());
    file.extend(rate_hz.to_le_bytes());
    file.extend((rate_hz * u32::from(n_channels) * 8).to_le_bytes());
    file.extend((n_channels * 8).to_le_bytes());
    file.extend(64_u16.to_le_bytes());
    file.extend(b"data");
    file.extend(n_bytes.to_le_bytes());
    for frame in 0..channels[0].len() {
        for channel in channels {
            file.extend(channel[frame].to_le_bytes());
        }
    }
    file
}

/// The samples of a 16-bit WAV with a header of 44 bytes.
pub(crate) fn pcm_of(wav: &[u8]) -> Vec<f64> {
    wav[44..]
        .chunks_exact(2)
        .map(|two| f64::from(i16::from_le_bytes([two[0], two[1]])) / 32_768.0)
        .collect()
}

/// A sine of the given peak.
pub(crate) fn sine(hz: f64, peak: f64, n: usize, rate_hz: u32) -> Vec<f64> {
    (0..n)
        .map(|i| peak * (TAU * hz * i as f64 / f64::from(rate_hz)).sin())
        .collect()
}

/// White noise of mean square 1/3, from a generator of 64 bits (xorshift*, Vigna 2016).
pub(crate) fn noise(seed: u64, n: usize) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..n)
        .map(|_| {
            state ^= state >> 12;
            state ^= state << 25;
            state ^= state >> 27;
            let bits = state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
            bits as f64 / (1_u64 << 52) as f64 - 1.0
        })
        .collect()
}

/// What a second-order band filter lets through, between about `low_hz` and `high_hz`; twice, for
/// slopes of 12 dB an octave.
pub(crate) fn band(samples: &[f64], low_hz: f64, high_hz: f64, rate_hz: u32) -> Vec<f64> {
    let once = |x: &[f64]| {
        let high_passed = biquad(x, low_hz, rate_hz, Pass::High);
        biquad(&high_passed, high_hz, rate_hz, Pass::Low)
    };
    once(&once(samples))
}

/// Noise that falls by 3 dB an octave, as quiet rooms do: white noise through a sum of one-pole
/// filters (Kellet's three-pole form; common practice, no source).
pub(crate) fn pink(seed: u64, n: usize) -> Vec<f64> {
    let mut poles = [0.0; 3];
    noise(seed, n)
        .into_iter()
        .map(|white| {
            poles[0] = 0.99765 * poles[0] + white * 0.099_046;
            poles[1] = 0.963 * poles[1] + white * 0.296_516_4;
            poles[2] = 0.57 * poles[2] + white * 1.052_691_3;
            poles.iter().sum::<f64>() + white * 0.1848
        })
        .collect()
}

/// The same sound with another root mean square.
pub(crate) fn at_rms(samples: &[f64], rms: f64) -> Vec<f64> {
    let gain = rms / rms_of(samples);
    samples.iter().map(|sample| sample * gain).collect()
}

/// Root mean square.
pub(crate) fn rms_of(samples: &[f64]) -> f64 {
    (samples.iter().map(|s| s * s).sum::<f64>() / samples.len() as f64).sqrt()
}

/// Amplitude ratio of a level in decibels.
pub(crate) fn ratio(decibels: f64) -> f64 {
    10_f64.powf(decibels / 20.0)
}

#[derive(Clone, Copy)]
enum Pass {
    High,
    Low,
}

/// A Butterworth filter of second order (bilinear transform; Robert Bristow-Johnson's cookbook).
fn biquad(samples: &[f64], hz: f64, rate_hz: u32, pass: Pass) -> Vec<f64> {
    let w = TAU * hz / f64::from(rate_hz);
    let alpha = w.sin() / std::f64::consts::SQRT_2;
    let b1 = match pass {
        Pass::Low => 1.0 - w.cos(),
        Pass::High => -1.0 - w.cos(),
    };
    let b0 = b1.abs() / 2.0;
    let a0 = 1.0 + alpha;
    let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
    samples
        .iter()
        .map(|&x| {
            let y = (b0 * x + b1 * x1 + b0 * x2 + 2.0 * w.cos() * y1 - (1.0 - alpha) * y2) / a0;
            (x2, x1, y2, y1) = (x1, x, y1, y);
            y
        })
        .collect()
}
