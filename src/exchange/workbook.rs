//! The tables of an export as one workbook, a sheet a table. The same tables give the same bytes.

use csv::ReaderBuilder;
use rust_xlsxwriter::DocProperties;
use rust_xlsxwriter::ExcelDateTime;
use rust_xlsxwriter::Format;
use rust_xlsxwriter::Workbook;
use rust_xlsxwriter::Worksheet;
use rust_xlsxwriter::XlsxError;

use super::export::without_guard;

/// Columns that hold names, never numbers, whatever they look like.
const NAMES: &[&str] = &[
    "token",
    "item",
    "listener",
    "rater",
    "child",
    "phase",
    "cohort",
    "condition",
    "word",
    "target",
    "position",
    "case",
    "why",
    "reason",
    "file",
    "column",
];

/// Writes CSVs as a workbook; a sheet is called as its file without `.csv`.
///
/// # Errors
/// What the format does not hold, such as more rows than a sheet has.
pub fn write_workbook(tables: &[(String, Vec<u8>)]) -> Result<Vec<u8>, String> {
    workbook(tables).map_err(|error| error.to_string())
}

fn workbook(tables: &[(String, Vec<u8>)]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    // Without a fixed time the file would hold when it was written.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&made));
    let head = Format::new().set_bold();
    for (file, csv) in tables {
        let sheet = workbook.add_worksheet();
        sheet.set_name(file.trim_end_matches(".csv"))?;
        sheet.set_freeze_panes(1, 0)?;
        write_sheet(sheet, csv, &head)?;
    }
    workbook.save_to_buffer()
}

fn write_sheet(sheet: &mut Worksheet, csv: &[u8], head: &Format) -> Result<(), XlsxError> {
    let mut reader = ReaderBuilder::new().has_headers(false).from_reader(csv);
    let mut rows = reader.records().flatten();
    let header: Vec<String> = rows
        .next()
        .map(|row| row.iter().map(str::to_owned).collect())
        .unwrap_or_default();
    for (column, name) in (0..).zip(&header) {
        sheet.write_string_with_format(0, column, name, head)?;
    }
    for (number, row) in (1..).zip(rows) {
        for ((column, name), cell) in (0..).zip(&header).zip(row.iter()) {
            let is_name = NAMES.contains(&name.as_str());
            match value_of(cell) {
                _ if cell.is_empty() => {}
                Value::Number(value) if !is_name => {
                    sheet.write_number(number, column, value)?;
                }
                Value::Truth(value) if !is_name => {
                    sheet.write_boolean(number, column, value)?;
                }
                // A text is never a formula here, so that it needs no guard.
                _ => {
                    sheet.write_string(number, column, without_guard(cell))?;
                }
            }
        }
    }
    Ok(())
}

enum Value {
    Number(f64),
    Truth(bool),
    Text,
}

fn value_of(cell: &str) -> Value {
    match cell {
        "true" => return Value::Truth(true),
        "false" => return Value::Truth(false),
        _ => {}
    }
    let begins_as_a_number = cell.starts_with(|sign: char| sign.is_ascii_digit() || sign == '-');
    let number = cell.parse::<f64>().ok().filter(|value| value.is_finite());
    number
        .filter(|_| begins_as_a_number)
        .map_or(Value::Text, Value::Number)
}
