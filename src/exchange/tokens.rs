//! Tokens: one row a token, with the child, session and phase that stand behind it.

use std::io::Read;

use jiff::ToSpan;
use jiff::civil::Date;

use super::share::FIRST_DAY;
use super::sheet::Notes;
use super::sheet::Row;
use super::sheet::Sheet;
use crate::study::Labels;
use crate::study::Problems;
use crate::study::TokenRow;
use crate::study::TokenTable;
use crate::study::Use;

/// Reads what is known of tokens: `token` (or `item`), `child`, `session`, `phase`; optional `cohort`,
/// `condition`, `date` (or `day`, counted from the first recording), `word`, `treated`, `use`
/// (absent: scored) and `link` (absent: false).
///
/// A link was heard again only to tell one panel from another: it counts like a token that is not scored.
/// Tokens that are not scored may leave child, session and phase empty; they are named in
/// [`TokenTable::unscored`] and make no row.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_tokens(name: &str, source: impl Read) -> Result<TokenTable, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let columns = Columns {
        token: sheet.required(&["token", "item"]),
        child: sheet.required(&["child"]),
        session: sheet.required(&["session"]),
        phase: sheet.required(&["phase"]),
        cohort: sheet.column(&["cohort"]),
        condition: sheet.column(&["condition"]),
        date: sheet.column(&["date"]),
        day: sheet.column(&["day"]),
        word: sheet.column(&["word"]),
        treated: sheet.column(&["treated"]),
        use_: sheet.column(&["use"]),
        link: sheet.column(&["link"]),
    };
    let mut table = TokenTable::default();
    let mut lines = Vec::new();
    sheet.read_rows(|row, notes| {
        let Some(token) = row.text(Some(columns.token)) else {
            notes.say("token", "is empty", "name the token, or delete the row");
            return;
        };
        let Some(use_) = use_of(row.text(columns.use_), notes) else {
            return;
        };
        let link = truth_of(row.text(columns.link), "link", notes) == Some(true);
        if link || !use_.is_scored() {
            table.unscored.number(token);
            return;
        }
        if let Some(first) = table
            .tokens
            .find(token)
            .and_then(|number| lines.get(number as usize))
        {
            notes.say(
                "token",
                format!("`{token}` was already in line {first}"),
                "keep one row a token",
            );
            return;
        }
        if let Some(known) = token_row(row, &columns, use_, &mut table, notes) {
            table.tokens.number(token);
            table.rows.push(known);
            lines.push(row.line);
        }
    })?;
    Ok(table)
}

struct Columns {
    token: usize,
    child: usize,
    session: usize,
    phase: usize,
    cohort: Option<usize>,
    condition: Option<usize>,
    date: Option<usize>,
    day: Option<usize>,
    word: Option<usize>,
    treated: Option<usize>,
    use_: Option<usize>,
    link: Option<usize>,
}

fn token_row(
    row: &Row<'_>,
    columns: &Columns,
    use_: Use,
    table: &mut TokenTable,
    notes: &mut Notes<'_>,
) -> Option<TokenRow> {
    let child = needed(row, columns.child, "child", &mut table.children, notes);
    let phase = needed(row, columns.phase, "phase", &mut table.phases, notes);
    let session = session_of(row.text(Some(columns.session)), notes);
    let date = date_of(row.text(columns.date), notes);
    let date = date.or_else(|| day_of(row.text(columns.day), notes));
    let treated = truth_of(row.text(columns.treated), "treated", notes);
    Some(TokenRow {
        child: child?,
        session: session?,
        phase: phase?,
        cohort: optional(row, columns.cohort, &mut table.cohorts),
        condition: optional(row, columns.condition, &mut table.conditions),
        date,
        word: optional(row, columns.word, &mut table.words),
        treated,
        use_,
    })
}

fn needed(
    row: &Row<'_>,
    column: usize,
    name: &str,
    labels: &mut Labels,
    notes: &mut Notes<'_>,
) -> Option<u32> {
    let text = row.text(Some(column));
    if text.is_none() {
        notes.say(name, "is empty", "every scored token needs one");
    }
    text.map(|text| labels.number(text))
}

fn optional(row: &Row<'_>, column: Option<usize>, labels: &mut Labels) -> Option<u32> {
    row.text(column).map(|text| labels.number(text))
}

fn use_of(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<Use> {
    let Some(raw) = raw else {
        return Some(Use::Scored);
    };
    raw.parse()
        .map_err(|refusal: crate::study::Invalid| notes.say("use", refusal.what, refusal.mend))
        .ok()
}

/// A session's number, counted from 1.
pub(super) fn session_of(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<u32> {
    let raw = raw.unwrap_or_default();
    match raw.parse() {
        Ok(session) if session > 0 => Some(session),
        _ => {
            notes.say(
                "session",
                format!("`{raw}` is no session number"),
                "number each child's sessions 1, 2, 3 in the order of recording",
            );
            None
        }
    }
}

/// A day counted from the first recording of a shared table, which is day 0.
fn day_of(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<Date> {
    let raw = raw?;
    let days = raw.parse::<u32>().ok();
    let date = days.and_then(|days| FIRST_DAY.checked_add(i64::from(days).days()).ok());
    if date.is_none() {
        notes.say(
            "day",
            format!("`{raw}` is no count of days"),
            "count the days from the first recording, which is day 0, or leave it empty",
        );
    }
    date
}

/// A day, written year-month-day.
pub(super) fn date_of(raw: Option<&str>, notes: &mut Notes<'_>) -> Option<Date> {
    let raw = raw?;
    raw.parse()
        .map_err(|_| {
            notes.say(
                "date",
                format!("`{raw}` is no date"),
                "write it as year-month-day, such as 2026-03-09, or leave it empty",
            );
        })
        .ok()
}

/// `true`, `yes`, `1` or `false`, `no`, `0`, in any case.
pub(super) fn truth_of(raw: Option<&str>, column: &str, notes: &mut Notes<'_>) -> Option<bool> {
    let raw = raw?;
    match raw.to_lowercase().as_str() {
        "true" | "yes" | "1" => Some(true),
        "false" | "no" | "0" => Some(false),
        _ => {
            notes.say(
                column,
                format!("`{raw}` is neither true nor false"),
                "write true or false",
            );
            None
        }
    }
}
