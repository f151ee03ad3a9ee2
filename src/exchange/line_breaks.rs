//! Line breaks of every kind as one, so that a row is named by the line at which an editor shows it.

use std::io::BufRead;
use std::io::Read;
use std::io::Result;
use std::mem::take;

/// The same text with `\r\n`, and `\r` alone, as `\n`, and a break after its last line: the CSV reader
/// counts `\n` alone, and ends a row before the `\n` of a `\r\n` was read.
pub(super) struct LineBreaks<R> {
    source: R,
    after_return: bool,
    in_line: bool,
}

impl<R> LineBreaks<R> {
    pub(super) fn of(source: R) -> Self {
        Self {
            source,
            after_return: false,
            in_line: false,
        }
    }
}

impl<R: BufRead> Read for LineBreaks<R> {
    fn read(&mut self, to: &mut [u8]) -> Result<usize> {
        loop {
            let from = self.source.fill_buf()?;
            if from.is_empty() {
                let Some(place) = to.first_mut().filter(|_| take(&mut self.in_line)) else {
                    return Ok(0);
                };
                *place = b'\n';
                return Ok(1);
            }
            let size = from.len().min(to.len());
            let from = from.get(..size).unwrap_or_default();
            let written = copy(from, to, &mut self.after_return);
            self.source.consume(size);
            let last = written.checked_sub(1).and_then(|last| to.get(last));
            if let Some(last) = last {
                self.in_line = *last != b'\n';
                return Ok(written);
            }
            if size == 0 {
                return Ok(0);
            }
        }
    }
}

/// Copies all of `from`, which fits into `to`; gives how many bytes were written.
fn copy(from: &[u8], to: &mut [u8], after_return: &mut bool) -> usize {
    let plain = !*after_return && !from.contains(&b'\r');
    if let Some(to) = to.get_mut(..from.len()).filter(|_| plain) {
        to.copy_from_slice(from);
        return from.len();
    }
    let mut written = 0;
    for &byte in from {
        let second_half = *after_return && byte == b'\n';
        *after_return = byte == b'\r';
        if let Some(place) = to.get_mut(written).filter(|_| !second_half) {
            *place = if byte == b'\r' { b'\n' } else { byte };
            written += 1;
        }
    }
    written
}

/// How many line breaks stand in `bytes`, of whatever kind; a `\r` at the very end counts as one.
pub(super) fn count(bytes: &[u8]) -> u64 {
    let next = bytes.iter().skip(1).map(Some).chain([None]);
    let breaks = bytes.iter().zip(next).filter(|(byte, next)| {
        **byte == b'\n' || (**byte == b'\r' && next.is_none_or(|next| *next != b'\n'))
    });
    breaks.map(|_| 1).sum()
}

#[cfg(test)]
mod tests {
    use std::io::BufReader;

    use super::*;

    #[test]
    fn every_kind_of_break_becomes_one_however_the_bytes_come() {
        let mixed = b"a\r\nb\n\r\n\rc\r\r\nd";
        for size in 1..=mixed.len() {
            let mut text = Vec::new();
            let source = BufReader::with_capacity(size, &mixed[..]);
            LineBreaks::of(source).read_to_end(&mut text).unwrap();
            assert_eq!(text, b"a\nb\n\n\nc\n\nd\n", "{size} bytes at a time");
        }
        assert_eq!(count(mixed), 6);
    }

    #[test]
    fn nothing_stays_nothing_and_a_last_break_is_not_doubled() {
        for (text, same) in [("", ""), ("a\n", "a\n"), ("a\r\n", "a\n"), ("a\r", "a\n")] {
            let mut read = String::new();
            let mut source = LineBreaks::of(text.as_bytes());
            source.read_to_string(&mut read).unwrap();
            assert_eq!(read, same, "{text:?}");
        }
    }
}
