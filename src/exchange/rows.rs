//! Rows taken out of a table, the rest left byte for byte as it was.

use csv::ByteRecord;
use csv::ReaderBuilder;

use super::separators::separator_of;

/// A CSV without the rows in which some cell is wanted out; `None` where no row goes. The header
/// stays. Cells are compared without the spaces around them.
pub fn without_rows(bytes: &[u8], is_wanted_out: &dyn Fn(&str) -> bool) -> Option<Vec<u8>> {
    let mut reader = ReaderBuilder::new()
        .has_headers(true)
        .flexible(true)
        .delimiter(separator_of(bytes).unwrap_or(b','))
        .from_reader(bytes);
    reader.byte_headers().ok()?;
    let mut record = ByteRecord::new();
    let mut kept = Vec::with_capacity(bytes.len());
    let mut from = 0;
    let mut begin = offset(&reader);
    while reader.read_byte_record(&mut record).ok()? {
        let end = offset(&reader);
        let goes = record.iter().any(|cell| {
            let cell = String::from_utf8_lossy(cell);
            is_wanted_out(cell.trim())
        });
        if goes {
            kept.extend_from_slice(bytes.get(from..begin)?);
            from = end;
        }
        begin = end;
    }
    if from == 0 {
        return None;
    }
    kept.extend_from_slice(bytes.get(from..)?);
    Some(kept)
}

fn offset(reader: &csv::Reader<&[u8]>) -> usize {
    usize::try_from(reader.position().byte()).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_go_and_the_rest_stays_as_it_was() {
        let table = "file,child\r\na.wav,C01\r\n\"b, c.wav\",\" C02\"\r\n\r\nd.wav,C01\n";
        let rest = |code: &str| {
            let rest = without_rows(table.as_bytes(), &|cell| cell == code);
            rest.map(|rest| String::from_utf8(rest).unwrap())
        };
        let left = rest("C01").unwrap();
        assert!(left.contains("\"b, c.wav\",\" C02\""), "{left}");
        assert!(!left.contains("C01"), "{left}");
        assert!(rest("C02").unwrap().contains("a.wav,C01\r\n"));
        assert_eq!(rest("C0"), None);
        let semicolons = without_rows(b"file;child\na.wav;C01\nb.wav;C02\n", &|cell| cell == "C01");
        assert_eq!(semicolons.unwrap(), b"file;child\nb.wav;C02\n");
    }
}
