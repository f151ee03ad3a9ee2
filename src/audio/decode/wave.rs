//! A WAVE file brought to its plainest form before it is decoded: one `fmt ` and one `data` chunk
//! with honest sizes. Recorders that lost power, streams and 64-bit files are read this way too, and
//! no chunk that could carry a name gets any further.

use super::DecodeError;

const NAME: &str = "WAV";
/// The size that a stream writes where it cannot know it.
const UNKNOWN: u32 = 0xFFFF_FFFF;

/// The same sound as a RIFF file that holds `fmt ` and `data` (and `fact` for ADPCM) alone.
///
/// # Errors
/// [`DecodeError::Damaged`] without a format before the data, [`DecodeError::Coding`] for a coding
/// other than PCM, float, A-law, mu-law and ADPCM, [`DecodeError::Truncated`] where the file ends
/// before its data.
pub(super) fn plain(bytes: &[u8]) -> Result<Vec<u8>, DecodeError> {
    let mut fmt = None;
    let mut fact = None;
    let mut long_data_len = None;
    let mut rest = bytes.get(12..).unwrap_or_default();
    while let (Some(id), Some(size)) = (rest.get(..4), u32_at(rest, 4)) {
        let body = rest.get(8..).unwrap_or_default();
        let len = usize::try_from(size).unwrap_or(usize::MAX);
        match id {
            b"fmt " => fmt = body.get(..len.min(body.len())),
            b"fact" => fact = body.get(..len.min(body.len())),
            b"ds64" => long_data_len = u64_at(body, 8),
            b"data" => {
                let format =
                    Format::read(fmt.ok_or_else(|| damaged("no format before the data"))?)?;
                let data = data_of(bytes, body, size, long_data_len, &format)?;
                return Ok(format.file(fact, data));
            }
            _ => {}
        }
        // A chunk of odd length is followed by one pad byte.
        rest = body.get(len.saturating_add(len & 1)..).unwrap_or_default();
    }
    Err(damaged("no data chunk"))
}

/// The bytes of the `data` chunk, whole frames only.
fn data_of<'a>(
    file: &[u8],
    body: &'a [u8],
    size: u32,
    long_len: Option<u64>,
    format: &Format,
) -> Result<&'a [u8], DecodeError> {
    let whole_file = u32_at(file, 4).is_some_and(|riff| {
        usize::try_from(riff).is_ok_and(|riff| riff > 36 && riff + 8 <= file.len())
    });
    let declared = match (size, long_len) {
        (UNKNOWN, Some(len)) => usize::try_from(len).unwrap_or(usize::MAX),
        (UNKNOWN, None) => body.len(),
        (0, _) if !whole_file => body.len(),
        (len, _) => usize::try_from(len).unwrap_or(usize::MAX),
    };
    let block = format.block_len.max(1);
    if declared > body.len() {
        let seconds = |len: usize| (len / block) as f64 / f64::from(format.blocks_per_s.max(1));
        return Err(DecodeError::Truncated {
            container: NAME,
            found_s: seconds(body.len()),
            declared_s: seconds(declared),
        });
    }
    let data = body.get(..declared).unwrap_or_default();
    Ok(data
        .get(..data.len() - data.len() % block)
        .unwrap_or_default())
}

/// What the `fmt ` chunk says, in a form that the decoder takes.
struct Format {
    fmt: Vec<u8>,
    block_len: usize,
    blocks_per_s: u32,
    needs_fact: bool,
}

impl Format {
    fn read(fmt: &[u8]) -> Result<Self, DecodeError> {
        let short = || damaged("the format chunk is too short");
        let head: [u8; 16] = fmt
            .get(..16)
            .and_then(|h| h.try_into().ok())
            .ok_or_else(short)?;
        let [t0, t1, c0, c1, r0, r1, r2, r3, _, _, _, _, a0, a1, b0, b1] = head;
        let mut tag = u16::from_le_bytes([t0, t1]);
        if tag == 0xFFFE {
            // Extensible: the true tag is the first half-word of the sub-format.
            tag = u16_at(fmt, 24).ok_or_else(short)?;
        }
        let channels = u16::from_le_bytes([c0, c1]);
        let rate = u32::from_le_bytes([r0, r1, r2, r3]);
        let bits = u16::from_le_bytes([b0, b1]);
        let block = u16::from_le_bytes([a0, a1]);
        if channels == 0 || rate == 0 {
            return Err(damaged("no channels, or a sample rate of 0"));
        }
        match tag {
            1 | 3 => Ok(Self::of_samples(tag, channels, rate, bits.div_ceil(8) * 8)),
            6 | 7 => Ok(Self::of_samples(tag, channels, rate, 8)),
            2 | 0x11 => Ok(Self {
                fmt: fmt.to_vec(),
                block_len: usize::from(block),
                blocks_per_s: u32_at(fmt, 8).unwrap_or(0) / u32::from(block.max(1)),
                needs_fact: true,
            }),
            _ => Err(DecodeError::Coding {
                container: NAME,
                detail: format!("format tag {tag:#06x}"),
            }),
        }
    }

    /// The format of samples that stand one by one, written in the shortest form.
    fn of_samples(tag: u16, channels: u16, rate: u32, bits: u16) -> Self {
        let block = u32::from(channels) * u32::from(bits / 8);
        let mut fmt = Vec::with_capacity(18);
        fmt.extend(tag.to_le_bytes());
        fmt.extend(channels.to_le_bytes());
        fmt.extend(rate.to_le_bytes());
        fmt.extend(rate.saturating_mul(block).to_le_bytes());
        fmt.extend(u16::try_from(block).unwrap_or(u16::MAX).to_le_bytes());
        fmt.extend(bits.to_le_bytes());
        if tag == 6 || tag == 7 {
            fmt.extend([0, 0]);
        }
        Self {
            fmt,
            block_len: usize::try_from(block).unwrap_or(usize::MAX),
            blocks_per_s: rate,
            needs_fact: false,
        }
    }

    fn file(&self, fact: Option<&[u8]>, data: &[u8]) -> Vec<u8> {
        let mut body = Vec::with_capacity(data.len() + 64);
        body.extend(b"WAVE");
        push_chunk(&mut body, *b"fmt ", &self.fmt);
        if let (true, Some(fact)) = (self.needs_fact, fact) {
            push_chunk(&mut body, *b"fact", fact);
        }
        push_chunk(&mut body, *b"data", data);
        let mut file = Vec::with_capacity(body.len() + 8);
        push_chunk(&mut file, *b"RIFF", &body);
        file
    }
}

fn push_chunk(file: &mut Vec<u8>, id: [u8; 4], body: &[u8]) {
    file.extend(id);
    file.extend(u32::try_from(body.len()).unwrap_or(UNKNOWN).to_le_bytes());
    file.extend(body);
    if body.len() % 2 == 1 {
        file.push(0);
    }
}

fn damaged(detail: &str) -> DecodeError {
    DecodeError::Damaged {
        container: NAME,
        detail: detail.to_owned(),
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(
        bytes.get(at..at.checked_add(2)?)?.try_into().ok()?,
    ))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(
        bytes.get(at..at.checked_add(4)?)?.try_into().ok()?,
    ))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(
        bytes.get(at..at.checked_add(8)?)?.try_into().ok()?,
    ))
}
