//! The prepared form of a token: 16-bit WAV of one channel behind a header of 44 bytes and no other
//! chunk, so that no name, date or place survives in it.

use std::io::Cursor;

use super::prepare::RATE_HZ;

/// Samples as 16-bit integers: rounded, not dithered; what passes full scale stays at its end.
pub(super) fn to_16_bits(samples: &[f64]) -> Vec<i16> {
    samples.iter().map(|sample| to_i16(*sample)).collect()
}

/// 16-bit integers as samples; full scale is 1.
pub(super) fn to_floats(pcm: &[i16]) -> Vec<f64> {
    pcm.iter()
        .map(|sample| f64::from(*sample) / 32_768.0)
        .collect()
}

/// A WAV file of one channel at 48 kHz.
///
/// # Errors
/// The writer's sentence, where the sound is too long for a WAV file.
pub(super) fn write(pcm: &[i16]) -> Result<Vec<u8>, String> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = Cursor::new(Vec::with_capacity(44 + 2 * pcm.len()));
    let write_all = |file: &mut Cursor<Vec<u8>>| {
        let mut writer = hound::WavWriter::new(file, spec)?;
        for sample in pcm {
            writer.write_sample(*sample)?;
        }
        writer.finalize()
    };
    write_all(&mut file).map_err(|error| error.to_string())?;
    Ok(file.into_inner())
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "clamped to the range of the type"
)]
fn to_i16(sample: f64) -> i16 {
    (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16
}
