//! The log as a person reads it: what happened when, by whom. Nothing in it tells an outcome or a child.

use std::collections::BTreeMap;

use serde_json::Value;

use super::AppError;
use super::Workspace;
use crate::store::EventsWanted;

/// The most events on a page.
pub const EVENTS_ON_A_PAGE: u32 = 100;

/// Which events are asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AuditFilter {
    /// Of this kind alone.
    pub kind: Option<String>,
    /// Of this day in UTC alone.
    pub day: Option<jiff::civil::Date>,
    /// Before this one.
    pub before: Option<u64>,
}

/// A page of the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Audit {
    /// Every kind of event that there is, with how many.
    pub kinds: Vec<(String, u64)>,
    /// The events, the newest first.
    pub events: Vec<AuditEvent>,
    /// Where the next page begins, if there is one.
    pub more_before: Option<u64>,
    /// Events in the whole log.
    pub count: u64,
    /// Where the log stands, short: to be deposited elsewhere.
    pub receipt: String,
}

/// An event as the page shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditEvent {
    /// Its number.
    pub seq: u64,
    /// When, in milliseconds since 1970 UTC.
    pub at_ms: i64,
    /// What happened.
    pub kind: String,
    /// Of which account: its name where it is still there, else its code.
    pub account: Option<String>,
    /// Who did it at the desk, in the same way.
    pub by: Option<String>,
    /// What may be shown beside it.
    pub said: Vec<(&'static str, String)>,
}

/// What of an event's body may be shown, with a name for it. Commitments, presentations and answers are not among them.
const SHOWN: &[(&str, &str)] = &[
    ("round", "round"),
    ("listener", "listener"),
    ("role", "role"),
    ("what", "changed"),
    ("how", "by"),
    ("route", "route"),
    ("sessions", "browsers"),
    ("tokens", "words"),
    ("missing", "missing"),
    ("sound", "sound"),
    ("link", "link"),
    ("event", "of event"),
    ("reason", "reason"),
];

/// A page of the log.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn audit(workspace: &Workspace, filter: &AuditFilter) -> Result<Audit, AppError> {
    let (from_ms, to_ms) = filter.day.map_or((i64::MIN, i64::MAX), day_in_utc);
    let wanted = EventsWanted {
        kind: filter.kind.clone(),
        from_ms,
        to_ms,
        before: filter.before,
        most: EVENTS_ON_A_PAGE + 1,
    };
    workspace.store().read(|reading| {
        let names: BTreeMap<String, String> = reading
            .accounts()?
            .into_iter()
            .map(|account| (account.code.to_string(), account.name.to_string()))
            .collect();
        let mut rows = reading.events_wanted(&wanted)?;
        let more = rows.len() > EVENTS_ON_A_PAGE as usize;
        rows.truncate(EVENTS_ON_A_PAGE as usize);
        let head = reading.head()?;
        Ok(Audit {
            kinds: reading.kinds_of_events()?,
            more_before: rows.last().filter(|_| more).map(|row| row.event.seq),
            events: rows
                .into_iter()
                .map(|row| shown(row.event, &names))
                .collect(),
            count: head.count,
            receipt: head.receipt().to_string(),
        })
    })
}

fn shown(event: crate::seal::Event, names: &BTreeMap<String, String>) -> AuditEvent {
    let body: Value = serde_json::from_str(event.body.as_str()).unwrap_or_default();
    let name_in = |field: &str| {
        let code = body.get(field).and_then(Value::as_str)?;
        Some(names.get(code).map_or(code, String::as_str).to_owned())
    };
    AuditEvent {
        seq: event.seq,
        at_ms: event.at_utc_ms,
        kind: event.kind,
        account: name_in("account"),
        by: name_in("by"),
        said: SHOWN
            .iter()
            .filter_map(|(field, name)| Some((*name, plain(body.get(field)?)?)))
            .collect(),
    }
}

/// A short text or a number; nothing of any other kind is shown.
fn plain(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

/// The first and the first no longer belonging millisecond of a day.
fn day_in_utc(day: jiff::civil::Date) -> (i64, i64) {
    let begins = |day: jiff::civil::Date| {
        day.to_zoned_datetime(jiff::tz::TimeZone::UTC)
            .map(|zoned| zoned.timestamp().as_millisecond())
    };
    let from = begins(day).unwrap_or(i64::MIN);
    let to = day.tomorrow().and_then(begins).unwrap_or(i64::MAX);
    (from, to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_all_its_milliseconds_in_utc() {
        // 2025-06-02 00:00 UTC is 1748822400 s after 1970 (GNU date).
        let day = "2025-06-02".parse().unwrap();
        assert_eq!(
            day_in_utc(day),
            (1_748_822_400_000, 1_748_822_400_000 + 86_400_000)
        );
    }
}
