//! Lines in columns, and numbers as they are shown.

use std::fmt::Write;

use super::super::number::fixed;

/// Rows of cells as aligned lines: the first column to the left, the others to the right.
pub fn columns(rows: &[Vec<String>]) -> String {
    let n_columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..n_columns).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            // Writing to a String cannot fail.
            let _ = if column == 0 {
                write!(line, "{cell:<width$}")
            } else {
                write!(line, "  {cell:>width$}")
            };
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// A number of things: "1 item", "2 items".
pub fn counted(count: usize, noun: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{plural}")
}

/// What every command prints, instead of tables of dashes, where it was given a header and no judgement.
pub(super) const NO_JUDGEMENTS: &str = "There are no judgements, so there is nothing to compute.\n";

/// A coefficient to three places, halves away from zero; a dash where there is none.
pub(super) fn number(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| plain(value, 3))
}

/// A number as pages show it, with the hyphen for a minus that terminals and scripts expect.
fn plain(value: f64, decimals: u8) -> String {
    fixed(value, decimals).replace('−', "-")
}

/// An interval to three places; a dash where there is none.
pub(super) fn interval(limits: Option<[f64; 2]>) -> String {
    limits.map_or_else(
        || "–".to_owned(),
        |[low, high]| format!("{} to {}", number(Some(low)), number(Some(high))),
    )
}

/// A p value: to three places, and below .001 only that it is.
pub(super) fn p_value(p: Option<f64>) -> String {
    match p {
        Some(p) if p < 0.001 => "< .001".to_owned(),
        p => number(p),
    }
}

/// A share of 1 as percent to one place.
pub(super) fn percent(share: Option<f64>) -> String {
    share.map_or_else(
        || "–".to_owned(),
        |share| format!("{}%", plain(share * 100.0, 1)),
    )
}

/// A header row.
pub(super) fn header<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.into_iter().map(str::to_owned).collect()
}
