//! The chained log.

use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Canonical;
use crate::seal::Digest;
use crate::seal::Event;
use crate::seal::Head;

/// An event with the digest that was stored beside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventRow {
    /// The event.
    pub event: Event,
    /// Its stored digest.
    pub digest: Digest,
}

/// Which events are asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventsWanted {
    /// Of this kind alone.
    pub kind: Option<String>,
    /// From this moment on, in milliseconds since 1970 UTC.
    pub from_ms: i64,
    /// Before this moment.
    pub to_ms: i64,
    /// Before this event.
    pub before: Option<u64>,
    /// At most so many.
    pub most: u32,
}

const EVENTS: &str = "SELECT seq, at_ms, kind, body, digest FROM event";

fn event_from(row: &rusqlite::Row<'_>) -> Result<EventRow, StoreError> {
    Ok(EventRow {
        event: Event {
            seq: sequence(column(row, "seq")?),
            at_utc_ms: column(row, "at_ms")?,
            kind: column(row, "kind")?,
            body: Canonical::stored(column::<String>(row, "body")?),
        },
        digest: parsed(row, "event", "digest")?,
    })
}

impl Reading<'_> {
    /// Where the log stands.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn head(&self) -> Result<Head, StoreError> {
        let last = self.first(
            "SELECT seq, digest FROM event ORDER BY seq DESC LIMIT 1",
            &[],
            |row| {
                Ok(Head {
                    count: sequence(column(row, "seq")?),
                    digest: parsed(row, "event", "digest")?,
                })
            },
        )?;
        Ok(last.unwrap_or(Head::EMPTY))
    }

    /// All events in their order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn events(&self) -> Result<Vec<EventRow>, StoreError> {
        self.all(&format!("{EVENTS} ORDER BY seq"), &[], event_from)
    }

    /// The events that are asked for, the newest first.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn events_wanted(&self, wanted: &EventsWanted) -> Result<Vec<EventRow>, StoreError> {
        let before = wanted.before.and_then(|seq| i64::try_from(seq).ok());
        self.all(
            &format!(
                "{EVENTS} WHERE (:kind IS NULL OR kind = :kind) AND at_ms >= :from AND at_ms < :to
                 AND (:before IS NULL OR seq < :before) ORDER BY seq DESC LIMIT :most"
            ),
            &[
                (":kind", &wanted.kind),
                (":from", &wanted.from_ms),
                (":to", &wanted.to_ms),
                (":before", &before),
                (":most", &wanted.most),
            ],
            event_from,
        )
    }

    /// Every kind of event, with how many there are.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn kinds_of_events(&self) -> Result<Vec<(String, u64)>, StoreError> {
        self.all(
            "SELECT kind, count(*) AS n FROM event GROUP BY kind ORDER BY kind",
            &[],
            |row| {
                let n: i64 = column(row, "n")?;
                Ok((column(row, "kind")?, sequence(n)))
            },
        )
    }
}

impl Writing<'_> {
    /// Appends an event to the log, in the transaction of what it tells.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn append_event(
        &self,
        at_ms: i64,
        kind: &str,
        body: Canonical,
    ) -> Result<Head, StoreError> {
        let head = self.head()?;
        let event = Event {
            seq: head.count + 1,
            at_utc_ms: at_ms,
            kind: kind.to_owned(),
            body,
        };
        let next = head.after(&event);
        self.run(
            "INSERT INTO event (seq, at_ms, kind, body, digest)
             VALUES (:seq, :at, :kind, :body, :digest)",
            &[
                (":seq", &i64::try_from(event.seq).unwrap_or(i64::MAX)),
                (":at", &event.at_utc_ms),
                (":kind", &event.kind),
                (":body", &event.body.as_str()),
                (":digest", &next.digest.to_string()),
            ],
        )?;
        Ok(next)
    }
}

/// A place in the log; the table holds none below 1.
fn sequence(stored: i64) -> u64 {
    u64::try_from(stored).unwrap_or(0)
}
