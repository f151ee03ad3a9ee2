//! Bytes of a sound file to a recording, whatever the file is called.
//!
//! WAV (8, 16, 24, 32-bit integer, 32 and 64-bit float, A-law, mu-law, ADPCM; plain, extensible and
//! 64-bit headers), FLAC, MP3, AAC and ALAC in M4A, AAC frames, AIFF, and Vorbis or FLAC in Ogg.
//! A file that is cut short is refused: half a word must not become a token. Where a file does not
//! say how long it is (MP3 without a header of its encoder, AAC frames), a cut cannot be told.

mod edit_list;
mod error;
mod sniff;
mod wave;

use std::io::Cursor;

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::codecs::audio::well_known as codec;
use symphonia::core::errors::Error as SymphoniaError;
use symphonia::core::formats::FormatOptions;
use symphonia::core::formats::FormatReader;
use symphonia::core::formats::TrackType;
use symphonia::core::formats::probe::Hint;
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

pub use error::DecodeError;

use super::bounds;
use super::recording::Recording;
use super::recording::Source;
use sniff::Kind;

/// Decodes a sound file.
///
/// Samples are scaled so that full scale is 1. Integer codings come out exactly: two lossless files
/// of the same sound give the same samples, hence the same [`Recording::fingerprint`]. The encoder
/// delay of AAC is taken off where the file's edit list tells it.
///
/// # Errors
/// A [`DecodeError`] that says what is wrong and how to mend it.
pub fn decode(bytes: &[u8]) -> Result<Recording, DecodeError> {
    let kind = sniff::sniff(bytes)?;
    let plain;
    let bytes = if kind == Kind::Wave {
        plain = wave::plain(bytes)?;
        plain.as_slice()
    } else {
        bytes
    };
    let track = read_track(kind, bytes)?;
    let declared = declared_frames(kind, bytes, &track);
    let mut channels = track.channels;
    let n_frames = channels.first().map_or(0, Vec::len);
    let declared_s = declared.map(|n| n as f64 / f64::from(track.rate_hz));
    if let Some(declared) = declared.filter(|declared| n_frames as u64 + 1 < *declared) {
        return Err(DecodeError::Truncated {
            container: kind.name(),
            found_s: n_frames as f64 / f64::from(track.rate_hz),
            declared_s: declared_s.unwrap_or(declared as f64),
        });
    }
    if kind == Kind::Mp4 {
        apply_edit_list(bytes, track.rate_hz, &mut channels);
    }
    check_samples(&channels)?;
    Ok(Recording::new(channels, track.rate_hz, track.source))
}

/// What the decoder gave for the file's sound track.
struct Track {
    channels: Vec<Vec<f64>>,
    rate_hz: u32,
    n_frames: Option<u64>,
    source: Source,
}

fn read_track(kind: Kind, bytes: &[u8]) -> Result<Track, DecodeError> {
    let stream = MediaSourceStream::new(
        Box::new(Cursor::new(bytes.to_vec())),
        symphonia::core::io::MediaSourceStreamOptions::default(),
    );
    // No hint: a file named .wav that holds MP3 still decodes.
    let mut reader = symphonia::default::get_probe()
        .probe(
            &Hint::new(),
            stream,
            FormatOptions::default(),
            MetadataOptions::default(),
        )
        .map_err(|error| refusal(kind, &error))?;
    let track = reader
        .default_track(TrackType::Audio)
        .ok_or(DecodeError::NoSound)?;
    let (id, n_frames) = (track.id, track.num_frames);
    let parameters = track
        .codec_params
        .as_ref()
        .and_then(|parameters| parameters.audio())
        .ok_or_else(|| coding(kind, "the coding is not named"))?
        .clone();
    check_shape(&parameters)?;
    let (channels, rate_hz) = read_samples(kind, reader.as_mut(), id, &parameters)?;
    Ok(Track {
        channels,
        rate_hz,
        n_frames,
        source: source(kind, &parameters),
    })
}

/// Decodes packet by packet, and stops as soon as the recording is too long.
fn read_samples(
    kind: Kind,
    reader: &mut dyn FormatReader,
    track_id: u32,
    parameters: &AudioCodecParameters,
) -> Result<(Vec<Vec<f64>>, u32), DecodeError> {
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(parameters, &AudioDecoderOptions::default().verify(true))
        .map_err(|error| coding(kind, &error.to_string()))?;
    let mut channels: Vec<Vec<f64>> = Vec::new();
    let mut rate_hz = None;
    let mut planes: Vec<Vec<f64>> = Vec::new();
    while let Some(packet) = reader
        .next_packet()
        .map_err(|error| damaged(kind, &error))?
    {
        if packet.track_id != track_id {
            continue;
        }
        let buffer = decoder
            .decode(&packet)
            .map_err(|error| damaged(kind, &error))?;
        let (rate, n_channels) = (buffer.spec().rate(), buffer.spec().channels().count());
        check_rate(rate)?;
        check_channels(n_channels)?;
        if channels.is_empty() {
            channels.resize(n_channels, Vec::new());
        }
        if *rate_hz.get_or_insert(rate) != rate || channels.len() != n_channels {
            return Err(damaged_by(
                kind,
                "the sample rate or the channels change on the way",
            ));
        }
        buffer.copy_to_vecs_planar(&mut planes);
        for (all, plane) in channels.iter_mut().zip(&planes) {
            all.extend_from_slice(plane);
        }
        let n_frames = channels.first().map_or(0, Vec::len);
        if n_frames as f64 > bounds::LONGEST_SECONDS * f64::from(rate) {
            return Err(DecodeError::TooLong);
        }
    }
    if decoder.finalize().verify_ok == Some(false) {
        return Err(damaged_by(kind, "its checksum does not fit its sound"));
    }
    let rate_hz = rate_hz.or(parameters.sample_rate).unwrap_or(0);
    check_rate(rate_hz)?;
    Ok((channels, rate_hz))
}

/// How many frames the file itself says it holds. MP3 and AAC frames without such a figure are
/// only guessed at by the reader, so the guess is left out.
fn declared_frames(kind: Kind, bytes: &[u8], track: &Track) -> Option<u64> {
    match kind {
        Kind::Adts => None,
        Kind::Mp3 => {
            let head = bytes
                .get(..bytes.len().min(HEADER_SEARCH))
                .unwrap_or_default();
            let has_count = head
                .windows(4)
                .any(|four| [&b"Xing"[..], b"Info", b"VBRI"].contains(&four));
            track.n_frames.filter(|_| has_count)
        }
        _ => track.n_frames,
    }
}

/// How far into an MP3 file its encoder's header is looked for, past pictures in tags.
const HEADER_SEARCH: usize = 4_000_000;

/// Keeps what the edit list shows: without the encoder's delay and its padding.
fn apply_edit_list(bytes: &[u8], rate_hz: u32, channels: &mut [Vec<f64>]) {
    let Some(edit) = edit_list::read(bytes).filter(|edit| edit.timescale == rate_hz) else {
        return;
    };
    let start = usize::try_from(edit.media_time).unwrap_or(usize::MAX);
    for channel in channels {
        channel.drain(..start.min(channel.len()));
        if let Some(seconds) = edit.seconds {
            // The movie's clock may be coarser than the sound's: keep up to one tick more.
            let n = frames_of(seconds + 0.001, rate_hz);
            channel.truncate(n);
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the value is clamped to what a recording may hold"
)]
fn frames_of(seconds: f64, rate_hz: u32) -> usize {
    (seconds * f64::from(rate_hz)).round().clamp(0.0, 4e9) as usize
}

fn check_shape(parameters: &AudioCodecParameters) -> Result<(), DecodeError> {
    if let Some(rate) = parameters.sample_rate {
        check_rate(rate)?;
    }
    parameters
        .channels
        .as_ref()
        .map_or(Ok(()), |channels| check_channels(channels.count()))
}

fn check_rate(rate_hz: u32) -> Result<(), DecodeError> {
    if (bounds::LOWEST_RATE_HZ..=bounds::HIGHEST_RATE_HZ).contains(&rate_hz) {
        Ok(())
    } else {
        Err(DecodeError::Rate(rate_hz))
    }
}

fn check_channels(n_channels: usize) -> Result<(), DecodeError> {
    match n_channels {
        0 => Err(DecodeError::NoSound),
        n if n > bounds::MOST_CHANNELS => Err(DecodeError::TooManyChannels(n)),
        _ => Ok(()),
    }
}

fn check_samples(channels: &[Vec<f64>]) -> Result<(), DecodeError> {
    let mut silent = true;
    for channel in channels {
        if let Some(index) = channel.iter().position(|sample| !sample.is_finite()) {
            return Err(DecodeError::NotFinite { index });
        }
        let first = channel.first().ok_or(DecodeError::NoSound)?;
        silent &= channel
            .iter()
            .all(|sample| sample.to_bits() == first.to_bits());
    }
    match (channels.is_empty(), silent) {
        (true, _) => Err(DecodeError::NoSound),
        (_, true) => Err(DecodeError::Silence),
        _ => Ok(()),
    }
}

fn source(kind: Kind, parameters: &AudioCodecParameters) -> Source {
    let (coding, lossless) = match parameters.codec {
        codec::CODEC_ID_MP3 => ("MP3", false),
        codec::CODEC_ID_AAC => ("AAC", false),
        codec::CODEC_ID_VORBIS => ("Vorbis", false),
        codec::CODEC_ID_PCM_ALAW => ("A-law", false),
        codec::CODEC_ID_PCM_MULAW => ("mu-law", false),
        codec::CODEC_ID_ADPCM_MS | codec::CODEC_ID_ADPCM_IMA_WAV | codec::CODEC_ID_ADPCM_IMA_QT => {
            ("ADPCM", false)
        }
        codec::CODEC_ID_ALAC => ("ALAC", true),
        codec::CODEC_ID_FLAC => ("FLAC", true),
        _ => ("PCM", true),
    };
    let bits = parameters
        .bits_per_coded_sample
        .or(parameters.bits_per_sample);
    Source {
        container: kind.name(),
        coding,
        lossless,
        bits: bits.filter(|_| lossless),
    }
}

fn refusal(kind: Kind, error: &SymphoniaError) -> DecodeError {
    match error {
        SymphoniaError::Unsupported(what) => coding(kind, what),
        other => damaged(kind, other),
    }
}

fn coding(kind: Kind, detail: &str) -> DecodeError {
    DecodeError::Coding {
        container: kind.name(),
        detail: detail.to_owned(),
    }
}

fn damaged(kind: Kind, error: &SymphoniaError) -> DecodeError {
    damaged_by(kind, &error.to_string())
}

fn damaged_by(kind: Kind, detail: &str) -> DecodeError {
    DecodeError::Damaged {
        container: kind.name(),
        detail: detail.to_owned(),
    }
}
