//! Series of single cases: one row a session.

use std::collections::BTreeMap;
use std::io::Read;

use super::sheet::Sheet;
use super::sheet::number_mend;
use crate::study::Problems;
use crate::study::Series;
use crate::study::SeriesRow;

/// Reads a series: `case,session,phase,value`, optional `condition`. A row without a value was not measured and is left out.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it; the same session of a case twice among it.
pub fn read_series(name: &str, source: impl Read) -> Result<Series, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let case = sheet.required(&["case"]);
    let session = sheet.required(&["session"]);
    let phase = sheet.required(&["phase"]);
    let value = sheet.required(&["value"]);
    let condition = sheet.column(&["condition"]);
    let mut series = Series::default();
    let mut lines: BTreeMap<(u32, u32), u64> = BTreeMap::new();
    sheet.read_rows(|row, notes| {
        let Some(raw) = row.text(Some(value)) else {
            return;
        };
        let number = raw.parse::<f64>().ok().filter(|value| value.is_finite());
        if number.is_none() {
            notes.say("value", format!("`{raw}` is no number"), number_mend(raw));
        }
        let said = row.text(Some(session)).unwrap_or_default();
        let when = said.parse::<u32>().ok();
        if when.is_none() {
            notes.say(
                "session",
                format!("`{said}` is no session number"),
                "number each case's sessions in the order of time",
            );
        }
        let (named, in_phase) = (row.text(Some(case)), row.text(Some(phase)));
        for (column, cell) in [("case", named), ("phase", in_phase)] {
            if cell.is_none() {
                notes.say(column, "is empty", "name it, or delete the row");
            }
        }
        let (Some(value), Some(session), Some(case), Some(phase)) = (number, when, named, in_phase)
        else {
            return;
        };
        let case = series.cases.number(case);
        if let Some(first) = lines.insert((case, session), row.line) {
            notes.say(
                "session",
                format!("session {session} of this case was already in line {first}"),
                "keep one row a session",
            );
        }
        let phase = series.phases.number(phase);
        let condition = row
            .text(condition)
            .map(|name| series.conditions.number(name));
        series.rows.push(SeriesRow {
            case,
            session,
            phase,
            value,
            condition,
        });
    })?;
    Ok(series)
}
