//! The edit list of an MP4 file: how much of the decoded sound is encoder delay.
//!
//! An AAC encoder puts 1024 or 2112 frames before the sound; the movie's edit list tells where the
//! sound begins (ISO/IEC 14496-12, 8.6.6) and for how long it lasts.

/// Where the sound lies in the decoded track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edit {
    /// Frames to leave out at the start, in units of the track's media timescale.
    pub(super) media_time: u64,
    /// Seconds that the sound lasts, where the list says so.
    pub(super) seconds: Option<f64>,
    /// Ticks a second of `media_time`.
    pub(super) timescale: u32,
}

/// The first edit that shows sound, of the first track that is sound; `None` where the file has none.
pub(super) fn read(bytes: &[u8]) -> Option<Edit> {
    let moov = child(bytes, *b"moov")?;
    let movie_scale = header_timescale(child(moov, *b"mvhd")?)?;
    let track = boxes(moov)
        .filter(|(kind, _)| kind == b"trak")
        .map(|(_, body)| body)
        .find(|track| is_sound(track).unwrap_or(false))?;
    let timescale = header_timescale(child(child(track, *b"mdia")?, *b"mdhd")?)?;
    let list = child(child(track, *b"edts")?, *b"elst")?;
    let (media_time, duration) = first_edit(list)?;
    let seconds =
        (duration > 0 && movie_scale > 0).then(|| duration as f64 / f64::from(movie_scale));
    Some(Edit {
        media_time,
        seconds,
        timescale,
    })
}

fn is_sound(track: &[u8]) -> Option<bool> {
    let handler = child(child(track, *b"mdia")?, *b"hdlr")?;
    Some(handler.get(8..12)? == b"soun")
}

/// Media time and duration of the first entry that shows media; an entry of −1 is an empty edit.
fn first_edit(list: &[u8]) -> Option<(u64, u64)> {
    let version = *list.first()?;
    let count = u32_at(list, 4)?;
    let entry_len = if version == 1 { 20 } else { 12 };
    let entries = list.get(8..)?.chunks_exact(entry_len);
    for entry in entries.take(usize::try_from(count).ok()?) {
        let (duration, media_time) = if version == 1 {
            (u64_at(entry, 0)?, u64_at(entry, 8)?.cast_signed())
        } else {
            (
                u64::from(u32_at(entry, 0)?),
                i64::from(u32_at(entry, 4)?.cast_signed()),
            )
        };
        if let Ok(media_time) = u64::try_from(media_time) {
            return Some((media_time, duration));
        }
    }
    None
}

/// The timescale of an `mvhd` or `mdhd` box.
fn header_timescale(header: &[u8]) -> Option<u32> {
    let at = if *header.first()? == 1 { 20 } else { 12 };
    u32_at(header, at)
}

fn child(bytes: &[u8], wanted: [u8; 4]) -> Option<&[u8]> {
    boxes(bytes)
        .find(|(kind, _)| *kind == wanted)
        .map(|(_, body)| body)
}

/// The boxes that stand one after another in `bytes`: kind and body.
fn boxes(bytes: &[u8]) -> impl Iterator<Item = ([u8; 4], &[u8])> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let kind: [u8; 4] = rest.get(4..8)?.try_into().ok()?;
        let (header, len) = match u32_at(rest, 0)? {
            0 => (8, rest.len()),
            1 => (16, usize::try_from(u64_at(rest, 8)?).ok()?),
            len => (8, usize::try_from(len).ok()?),
        };
        let body = rest.get(header..len.min(rest.len()))?;
        rest = rest.get(len..).unwrap_or_default();
        Some((kind, body))
    })
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(
        bytes.get(at..at.checked_add(4)?)?.try_into().ok()?,
    ))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_be_bytes(
        bytes.get(at..at.checked_add(8)?)?.try_into().ok()?,
    ))
}
