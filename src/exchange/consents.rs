//! A table of consents: one row a child.

use std::collections::HashMap;
use std::io::Read;

use super::sheet::Notes;
use super::sheet::Row;
use super::sheet::Sheet;
use super::tokens::date_of;
use crate::study::Assent;
use crate::study::ChildCode;
use crate::study::Consent;
use crate::study::Invalid;
use crate::study::Problems;

/// A row of a table of consents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConsentLine {
    /// Its line, the header being line 1.
    pub line: u64,
    /// Whose consent it is.
    pub child: ChildCode,
    /// What was agreed to.
    pub consent: Consent,
}

/// Reads consents: `child,version,date,scope,assent`, optional `keep_until`. `scope` holds one or
/// more of `staff`, `research`, `remote` and `example` with spaces between them; an empty one is a
/// consent that was taken back. `assent` is `given`, `refused` or `not-asked`.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_consents(name: &str, source: impl Read) -> Result<Vec<ConsentLine>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let columns = Columns {
        child: sheet.required(&["child"]),
        version: sheet.required(&["version"]),
        date: sheet.required(&["date"]),
        scope: sheet.required(&["scope"]),
        assent: sheet.required(&["assent"]),
        keep_until: sheet.column(&["keep_until"]),
    };
    let mut rows: Vec<ConsentLine> = Vec::new();
    let mut lines = HashMap::new();
    sheet.read_rows(|row, notes| {
        let Some(read) = row_of(row, &columns, notes) else {
            return;
        };
        if let Some(first) = lines.insert(read.child.clone(), read.line) {
            notes.say(
                "child",
                format!("this child was already in line {first}"),
                "keep one row a child: the one that holds",
            );
            return;
        }
        rows.push(read);
    })?;
    Ok(rows)
}

struct Columns {
    child: usize,
    version: usize,
    date: usize,
    scope: usize,
    assent: usize,
    keep_until: Option<usize>,
}

fn row_of(row: &Row<'_>, columns: &Columns, notes: &mut Notes<'_>) -> Option<ConsentLine> {
    let before = notes.count();
    let child = needed(row, columns.child, "child", "write the child's code", notes);
    let version = needed(
        row,
        columns.version,
        "version",
        "write which text was agreed to",
        notes,
    );
    let given_on = date_of(row.text(Some(columns.date)), notes);
    if row.text(Some(columns.date)).is_none() {
        notes.say("date", "is empty", "write the day of the signature");
    }
    let scopes = match row.text(Some(columns.scope)).unwrap_or_default().parse() {
        Ok(scopes) => Some(scopes),
        Err(refusal) => {
            let Invalid { what, mend } = refusal;
            notes.say("scope", what, mend);
            None
        }
    };
    let assent: Option<Assent> = needed(
        row,
        columns.assent,
        "assent",
        "write given, refused or not-asked",
        notes,
    );
    let keep_until = row.text(columns.keep_until).and_then(|raw| {
        raw.parse()
            .map_err(|_| {
                let mend = "write it as year-month-day, or leave it empty";
                notes.say("keep_until", format!("`{raw}` is no date"), mend);
            })
            .ok()
    });
    let consent = Consent {
        version: version?,
        given_on: given_on?,
        scopes: scopes?,
        assent: assent?,
        keep_until,
    };
    if let Err(refusal) = consent.check() {
        notes.say("keep_until", refusal.what, refusal.mend);
    }
    let child = child?;
    (notes.count() == before).then_some(ConsentLine {
        line: row.line,
        child,
        consent,
    })
}

fn needed<T>(
    row: &Row<'_>,
    column: usize,
    name: &str,
    mend: &str,
    notes: &mut Notes<'_>,
) -> Option<T>
where
    T: std::str::FromStr<Err = Invalid>,
{
    let Some(raw) = row.text(Some(column)) else {
        notes.say(name, "is empty", mend);
        return None;
    };
    raw.parse()
        .map_err(|refusal: Invalid| notes.say(name, refusal.what, refusal.mend))
        .ok()
}
