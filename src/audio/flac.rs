//! Tokens as FLAC: a third of the bytes of WAV, and the very same samples.

use std::io::Cursor;

use flac_codec::encode::FlacSampleWriter;
use flac_codec::encode::Options;

use super::prepare::RATE_HZ;

/// 16-bit samples of one channel as a FLAC file without tags, pictures or padding.
///
/// The same samples give the same bytes; any decoder gives the samples back exactly (RFC 9639).
///
/// # Errors
/// The encoder's sentence for a rate of 0 or beyond 1 MHz, or no samples.
pub fn write(pcm: &[i16], rate_hz: u32) -> Result<Vec<u8>, String> {
    let options = Options::best().no_padding().no_seektable();
    let samples: Vec<i32> = pcm.iter().copied().map(i32::from).collect();
    let mut file = Cursor::new(Vec::new());
    let encode = |file: &mut Cursor<Vec<u8>>| {
        let n = Some(samples.len() as u64);
        let mut writer = FlacSampleWriter::new(file, options, rate_hz, 16, 1, n)?;
        writer.write(&samples)?;
        writer.finalize()
    };
    encode(&mut file).map_err(|error: flac_codec::Error| error.to_string())?;
    Ok(file.into_inner())
}

/// A prepared token ([`Prepared::wav`](super::Prepared::wav)) as FLAC with the very same samples.
///
/// # Errors
/// A sentence where these bytes are not 44 bytes of header and 16-bit samples.
pub fn of_wav(wav: &[u8]) -> Result<Vec<u8>, String> {
    let (header, data) = wav
        .split_at_checked(44)
        .ok_or("a WAV header has 44 bytes")?;
    if !header.starts_with(b"RIFF") || !header.ends_with(&data_head(data.len())) {
        return Err("this is not a prepared token".to_owned());
    }
    let (pairs, _) = data.as_chunks::<2>();
    let pcm: Vec<i16> = pairs.iter().map(|two| i16::from_le_bytes(*two)).collect();
    write(&pcm, RATE_HZ)
}

/// How the header of a file with this much data ends.
fn data_head(n_bytes: usize) -> Vec<u8> {
    let n_bytes = u32::try_from(n_bytes).unwrap_or(u32::MAX);
    [b"data".as_slice(), &n_bytes.to_le_bytes()].concat()
}
