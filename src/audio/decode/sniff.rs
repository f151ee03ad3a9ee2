//! What a file is, told from its content alone: an extension is never trusted.

use super::DecodeError;

/// A kind of file that is decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Wave,
    Flac,
    Mp3,
    Mp4,
    Adts,
    Aiff,
    Ogg,
}

impl Kind {
    /// The name that messages and reports give it.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Wave => "WAV",
            Self::Flac => "FLAC",
            Self::Mp3 => "MP3",
            Self::Mp4 => "M4A",
            Self::Adts => "AAC",
            Self::Aiff => "AIFF",
            Self::Ogg => "Ogg",
        }
    }
}

/// Kinds that are known by their first bytes and not decoded here.
const REFUSED: &[(usize, &[u8], &str)] = &[
    (0, b"RIFX", "a big-endian WAV file (RIFX)"),
    (0, &[0x1A, 0x45, 0xDF, 0xA3], "a WebM or Matroska file"),
    (0, b"#!AMR", "an AMR file"),
    (0, b"caff", "a CAF file"),
    (
        0,
        &[0x30, 0x26, 0xB2, 0x75, 0x8E, 0x66, 0xCF, 0x11],
        "a WMA or other ASF file",
    ),
    (0, b"wvpk", "a WavPack file"),
    (0, b"MAC ", "a Monkey's Audio file"),
    (0, b"MPCK", "a Musepack file"),
    (0, b"MP+", "a Musepack file"),
    (0, b"TTA1", "a True Audio file"),
    (0, b".snd", "an AU file"),
    (0, b"DSD ", "a DSD file"),
    (0, b"FRM8", "a DSD file"),
    (0, b".RMF", "a RealAudio file"),
    (0, b"NIST_1A", "a NIST SPHERE file"),
    (0, b"ADIF", "an AAC file without frames (ADIF)"),
    (0, b"MThd", "a MIDI file"),
];

/// The kind of file that these bytes are.
///
/// # Errors
/// [`DecodeError::Empty`], [`DecodeError::Refused`] for a kind that is known by name and not
/// decoded, [`DecodeError::NotAudio`] for anything else.
pub(super) fn sniff(bytes: &[u8]) -> Result<Kind, DecodeError> {
    if bytes.is_empty() {
        return Err(DecodeError::Empty);
    }
    let starts = |at: usize, sign: &[u8]| bytes.get(at..).is_some_and(|b| b.starts_with(sign));
    if let Some((_, _, name)) = REFUSED.iter().find(|(at, sign, _)| starts(*at, sign)) {
        return Err(DecodeError::Refused(name));
    }
    if [&b"RIFF"[..], b"RF64", b"BW64"]
        .iter()
        .any(|sign| starts(0, sign))
    {
        return if starts(8, b"WAVE") {
            Ok(Kind::Wave)
        } else {
            Err(DecodeError::NotAudio)
        };
    }
    if starts(0, b"FORM") && (starts(8, b"AIFF") || starts(8, b"AIFC")) {
        return Ok(Kind::Aiff);
    }
    if starts(0, b"OggS") {
        return sniff_ogg(bytes);
    }
    if starts(4, b"ftyp") || starts(4, b"moov") {
        return Ok(Kind::Mp4);
    }
    // Tags may stand before FLAC, MP3 and AAC; what follows them decides.
    let sound = bytes.get(id3_len(bytes)..).unwrap_or_default();
    if sound.starts_with(b"fLaC") {
        return Ok(Kind::Flac);
    }
    sniff_mpeg(sound)
}

/// An Ogg stream by the first packet of its first page.
fn sniff_ogg(bytes: &[u8]) -> Result<Kind, DecodeError> {
    let segments = usize::from(bytes.get(26).copied().unwrap_or(0));
    let packet = bytes.get(27 + segments..).unwrap_or_default();
    if packet.starts_with(b"\x01vorbis") || packet.starts_with(b"\x7fFLAC") {
        Ok(Kind::Ogg)
    } else if packet.starts_with(b"OpusHead") {
        Err(DecodeError::Refused("an Opus file"))
    } else if packet.starts_with(b"Speex") {
        Err(DecodeError::Refused("a Speex file"))
    } else {
        Err(DecodeError::Refused("an Ogg file without Vorbis sound"))
    }
}

/// MPEG frames by their sync word, with layer III for MP3 and layer 0 for AAC.
fn sniff_mpeg(bytes: &[u8]) -> Result<Kind, DecodeError> {
    let [0xFF, second, third, ..] = bytes else {
        return Err(DecodeError::NotAudio);
    };
    let synced = second & 0xE0 == 0xE0;
    match (synced, second & 0x06) {
        (true, 0x00) if second & 0xF6 == 0xF0 => Ok(Kind::Adts),
        (true, 0x02) if third & 0xF0 != 0xF0 && third & 0x0C != 0x0C => Ok(Kind::Mp3),
        (true, 0x04 | 0x06) => Err(DecodeError::Refused("an MPEG layer I or II file")),
        _ => Err(DecodeError::NotAudio),
    }
}

/// The length of an `ID3v2` tag at the start, 0 if there is none.
fn id3_len(bytes: &[u8]) -> usize {
    let [b'I', b'D', b'3', _, _, flags, a, b, c, d, ..] = bytes else {
        return 0;
    };
    let body = [a, b, c, d]
        .iter()
        .fold(0_usize, |n, byte| (n << 7) | usize::from(**byte & 0x7F));
    let footer = if flags & 0x10 == 0 { 0 } else { 10 };
    10 + body + footer
}
