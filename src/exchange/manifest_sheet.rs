//! A manifest as it stands, cell by cell, to be mended a row at a time: every other byte of it stays as it was.

use std::collections::BTreeMap;

use csv::ByteRecord;
use csv::ReaderBuilder;

use super::line_breaks;
use crate::study::Invalid;

/// A manifest as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ManifestSheet {
    /// The columns as the header names them, in small letters.
    pub header: Vec<String>,
    /// Its rows, empty ones left out.
    pub rows: Vec<SheetRow>,
}

/// A row as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetRow {
    /// Its first line in the file, which begins with line 1.
    pub line: u64,
    /// A cell for each column, spaces around it left off.
    pub cells: Vec<String>,
}

impl ManifestSheet {
    /// Takes a manifest apart. What is wrong with it is said by [`read_manifest`](super::read_manifest()); here a row
    /// that cannot be read is a row of what can.
    pub fn of(bytes: &[u8]) -> Self {
        let (header, rows) = taken_apart(bytes);
        let texts = |record: &ByteRecord| -> Vec<String> {
            let cells = record.iter().map(<[u8]>::trim_ascii);
            cells
                .map(|cell| String::from_utf8_lossy(cell).into_owned())
                .collect()
        };
        let rows = rows.iter().filter(|row| !is_empty(&row.record));
        Self {
            header: texts(&header.record)
                .iter()
                .map(|name| name.to_lowercase())
                .collect(),
            rows: rows
                .map(|row| SheetRow {
                    line: row.line,
                    cells: texts(&row.record),
                })
                .collect(),
        }
    }

    /// The cell of a row in a column; empty where there is none.
    pub fn cell<'a>(&'a self, row: &'a SheetRow, column: &str) -> &'a str {
        let place = self.header.iter().position(|name| name == column);
        place
            .and_then(|place| row.cells.get(place))
            .map_or("", String::as_str)
    }

    /// The row of a line.
    pub fn at_line(&self, line: u64) -> Option<&SheetRow> {
        self.rows.iter().find(|row| row.line == line)
    }
}

/// A manifest with new values in the row of a line. A column that the header lacks is added to it.
///
/// # Errors
/// [`Invalid`] where no row stands in that line.
pub fn mend_row(
    bytes: &[u8],
    line: u64,
    values: &BTreeMap<String, String>,
) -> Result<Vec<u8>, Invalid> {
    let bytes = with_columns(bytes, values);
    let sheet = ManifestSheet::of(&bytes);
    let row = sheet.at_line(line).ok_or_else(|| no_row(line))?;
    let cells = sheet.header.iter().enumerate().map(|(place, name)| {
        let before = row.cells.get(place).map_or("", String::as_str);
        values.get(name).map_or(before, String::as_str)
    });
    let cells: Vec<&str> = cells.collect();
    replaced(&bytes, line, &cells)
}

/// A manifest with the row of a line emptied: the lines of all others stay.
///
/// # Errors
/// [`Invalid`] where no row stands in that line.
pub fn remove_row(bytes: &[u8], line: u64) -> Result<Vec<u8>, Invalid> {
    let width = ManifestSheet::of(bytes).header.len();
    replaced(bytes, line, &vec![""; width])
}

/// A manifest with a further row at its end.
pub fn add_row(bytes: &[u8], values: &BTreeMap<String, String>) -> Vec<u8> {
    let mut bytes = with_columns(bytes, values);
    let sheet = ManifestSheet::of(&bytes);
    if !bytes.ends_with(b"\n") {
        bytes.push(b'\n');
    }
    let cells: Vec<&str> = sheet
        .header
        .iter()
        .map(|name| values.get(name).map_or("", String::as_str))
        .collect();
    bytes.extend(written(&cells));
    bytes
}

/// The manifest with every column that `values` fills; the rows are filled up with empty cells.
fn with_columns(bytes: &[u8], values: &BTreeMap<String, String>) -> Vec<u8> {
    let (header, rows) = taken_apart(bytes);
    let named: Vec<String> = ManifestSheet::of(bytes).header;
    let filled = values.iter().filter(|(_, value)| !value.is_empty());
    let new: Vec<&str> = filled
        .map(|(name, _)| name.as_str())
        .filter(|name| !named.iter().any(|known| known == name))
        .collect();
    if new.is_empty() {
        return bytes.to_vec();
    }
    let empty = vec![""; new.len()];
    let rows = rows.iter().map(|row| (row, &empty));
    let mut whole = Vec::new();
    let mut next_line = 1;
    for (row, added) in std::iter::once((&header, &new)).chain(rows) {
        // Lines that hold nothing are kept, so that every row keeps its number.
        whole.extend((next_line..row.line).map(|_| b'\n'));
        let cells = row
            .record
            .iter()
            .chain(added.iter().map(|cell| cell.as_bytes()));
        let text = written(&cells.collect::<Vec<_>>());
        next_line = row.line + line_breaks::count(&text);
        whole.extend(text);
    }
    whole
}

#[derive(Default)]
struct RowBytes {
    line: u64,
    start: usize,
    record: ByteRecord,
}

/// The header and the rows, each with where it starts.
fn taken_apart(bytes: &[u8]) -> (RowBytes, Vec<RowBytes>) {
    let skipped = if bytes.starts_with(&[0xEF, 0xBB, 0xBF]) {
        3
    } else {
        0
    };
    let mut csv = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes.get(skipped..).unwrap_or_default());
    let mut rows = Vec::new();
    let (mut line, mut counted) = (1, 0);
    let mut record = ByteRecord::new();
    while matches!(csv.read_byte_record(&mut record), Ok(true)) {
        let Some(position) = record.position() else {
            break;
        };
        let start = skipped + usize::try_from(position.byte()).unwrap_or(0);
        let start = start + breaks_at(bytes.get(start..).unwrap_or_default().iter());
        line += line_breaks::count(bytes.get(counted..start).unwrap_or_default());
        counted = start;
        rows.push(RowBytes {
            line,
            start,
            record: record.clone(),
        });
    }
    let mut rows = rows.into_iter();
    let header = rows.next().unwrap_or_default();
    (header, rows.collect())
}

/// How many bytes of line breaks come first: the reader names the end of the row before.
fn breaks_at<'a>(bytes: impl Iterator<Item = &'a u8>) -> usize {
    bytes
        .take_while(|byte| matches!(byte, b'\r' | b'\n'))
        .count()
}

fn is_empty(record: &ByteRecord) -> bool {
    record.iter().all(|cell| cell.trim_ascii().is_empty())
}

fn replaced(bytes: &[u8], line: u64, cells: &[&str]) -> Result<Vec<u8>, Invalid> {
    let (_, rows) = taken_apart(bytes);
    let place = rows.iter().position(|row| row.line == line);
    let row = place.and_then(|place| rows.get(place));
    let row = row.ok_or_else(|| no_row(line))?;
    let next = place.and_then(|place| rows.get(place + 1));
    let end = next.map_or(bytes.len(), |next| next.start);
    let own = bytes.get(row.start..end).unwrap_or_default();
    let end = end - breaks_at(own.iter().rev());
    let mut whole = bytes.get(..row.start).unwrap_or_default().to_vec();
    let mut new = written(cells);
    new.pop();
    whole.extend(new);
    whole.extend(bytes.get(end..).unwrap_or_default());
    Ok(whole)
}

/// A row in CSV, with its line break.
fn written<T: AsRef<[u8]>>(cells: &[T]) -> Vec<u8> {
    let mut csv = csv::Writer::from_writer(Vec::new());
    // Writing into memory cannot fail.
    let _ = csv.write_record(cells);
    csv.into_inner().unwrap_or_default()
}

fn no_row(line: u64) -> Invalid {
    Invalid::new(
        format!("no row stands in line {line}"),
        "look at the list again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: &str = "file,Word , phase\na.wav,\"s, a\",x\n\nb.wav,two,y\r\nc.wav,three,z";

    fn values(pairs: &[(&str, &str)]) -> BTreeMap<String, String> {
        let owned = pairs
            .iter()
            .map(|(k, v)| ((*k).to_owned(), (*v).to_owned()));
        owned.collect()
    }

    #[test]
    fn a_row_is_mended_and_all_other_bytes_stay() {
        let mended = mend_row(PLAIN.as_bytes(), 4, &values(&[("word", "zw\"ei")])).unwrap();
        assert_eq!(
            String::from_utf8(mended).unwrap(),
            PLAIN.replace("two", "\"zw\"\"ei\"")
        );
        assert!(mend_row(PLAIN.as_bytes(), 3, &values(&[("word", "x")])).is_err());
    }

    #[test]
    fn a_row_is_named_by_its_line_whatever_breaks_the_lines() {
        for broken in ["\n", "\r\n", "\r"] {
            let text = "\nfile,word\na.wav,\"o\nne\"\n\n\nb.wav,two\n".replace('\n', broken);
            let sheet = ManifestSheet::of(text.as_bytes());
            assert_eq!(sheet.header, ["file", "word"]);
            let lines: Vec<u64> = sheet.rows.iter().map(|row| row.line).collect();
            assert_eq!(lines, [3, 7], "{broken:?}");
            let mended = mend_row(text.as_bytes(), 7, &values(&[("word", "zwei")])).unwrap();
            assert_eq!(
                String::from_utf8(mended).unwrap(),
                text.replace("two", "zwei")
            );
            let wider = mend_row(text.as_bytes(), 7, &values(&[("phase", "x")])).unwrap();
            let wider = ManifestSheet::of(&wider);
            assert_eq!(wider.cell(wider.at_line(7).unwrap(), "phase"), "x");
            assert_eq!(wider.rows[0].line, 3);
        }
    }

    #[test]
    fn a_removed_row_leaves_the_lines_of_the_others() {
        let less = remove_row(PLAIN.as_bytes(), 2).unwrap();
        let sheet = ManifestSheet::of(&less);
        let lines: Vec<u64> = sheet.rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [4, 5]);
        let last = remove_row(PLAIN.as_bytes(), 5).unwrap();
        assert_eq!(ManifestSheet::of(&last).rows.len(), 2);
    }

    #[test]
    fn a_value_for_a_column_that_is_not_there_adds_it() {
        let more = mend_row(PLAIN.as_bytes(), 5, &values(&[("reason", "no response")])).unwrap();
        let sheet = ManifestSheet::of(&more);
        assert_eq!(sheet.header, ["file", "word", "phase", "reason"]);
        let row = sheet.at_line(5).unwrap();
        assert_eq!(sheet.cell(row, "reason"), "no response");
        assert_eq!(sheet.cell(sheet.at_line(2).unwrap(), "word"), "s, a");
    }

    #[test]
    fn a_further_row_stands_at_the_end() {
        let more = add_row(
            PLAIN.as_bytes(),
            &values(&[("file", "d.wav"), ("word", "four")]),
        );
        let sheet = ManifestSheet::of(&more);
        let row = sheet.rows.last().unwrap();
        assert_eq!((row.line, sheet.cell(row, "word")), (6, "four"));
    }
}
