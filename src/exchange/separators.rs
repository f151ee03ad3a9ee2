//! Tables as spreadsheets save them where a comma stands in decimal numbers: divided by semicolons or tabs.

use std::borrow::Cow;

/// A table divided by commas, whatever its header is divided by. Lines keep their numbers, and quoted
/// cells stay as they are; a table whose header holds a comma outside quotes is left alone.
pub fn divided_by_commas(table: &[u8]) -> Cow<'_, [u8]> {
    let Some(separator) = separator_of(table) else {
        return Cow::Borrowed(table);
    };
    let mut out = Vec::with_capacity(table.len() + 16);
    let mut rest = table;
    while !rest.is_empty() {
        let (cell, after) = rest.split_at(cell_end(rest, separator));
        if cell.first() != Some(&b'"') && cell.contains(&b',') {
            out.push(b'"');
            for byte in cell {
                out.extend(std::iter::repeat_n(
                    *byte,
                    if *byte == b'"' { 2 } else { 1 },
                ));
            }
            out.push(b'"');
        } else {
            out.extend_from_slice(cell);
        }
        let Some((&mark, after)) = after.split_first() else {
            break;
        };
        out.push(if mark == separator { b',' } else { mark });
        rest = after;
    }
    Cow::Owned(out)
}

/// What divides the header where it is not commas.
pub(super) fn separator_of(table: &[u8]) -> Option<u8> {
    let header = table.split(|byte| matches!(byte, b'\n' | b'\r')).next()?;
    let mut quoted = false;
    let mut found = None;
    for byte in header {
        match byte {
            b'"' => quoted = !quoted,
            b',' if !quoted => return None,
            b';' | b'\t' if !quoted => {
                found.get_or_insert(*byte);
            }
            _ => {}
        }
    }
    found
}

/// Where the cell ends that a text begins with: at the separator or the line break behind it.
fn cell_end(text: &[u8], separator: u8) -> usize {
    let mut quoted = false;
    for (place, &byte) in text.iter().enumerate() {
        if byte == b'"' && (quoted || place == 0) {
            quoted = !quoted;
        } else if byte == b'"' && text.first() == Some(&b'"') {
            // A quote doubled inside a quoted cell opens it again.
            quoted = true;
        } else if !quoted && (byte == separator || byte == b'\n' || byte == b'\r') {
            return place;
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(table: &str, wanted: &str) {
        let made = divided_by_commas(table.as_bytes());
        assert_eq!(std::str::from_utf8(&made).unwrap(), wanted);
    }

    #[test]
    fn semicolons_and_tabs_become_commas() {
        check("file;child\r\na.wav;C01\r\n", "file,child\r\na.wav,C01\r\n");
        check("file\tchild\na.wav\tC01", "file,child\na.wav,C01");
        check("\u{feff}file;child\n;\n", "\u{feff}file,child\n,\n");
    }

    #[test]
    fn a_comma_in_a_cell_stays_in_it() {
        check("a;b\n1,5;x\n", "a,b\n\"1,5\",x\n");
        check(
            "a;b\n\"x;y\n\"\"z\"\";\";1\n",
            "a,b\n\"x;y\n\"\"z\"\";\",1\n",
        );
        check("a;b\n5\" disk, old;1\n", "a,b\n\"5\"\" disk, old\",1\n");
    }

    #[test]
    fn what_is_divided_by_commas_is_left_alone() {
        check("a,b;c\n1;2,3\n", "a,b;c\n1;2,3\n");
        check("a\n1;2\n", "a\n1;2\n");
        check("", "");
    }
}
