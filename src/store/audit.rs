//! What is read to hold the study against its seal and its log: whole tables, and columns that no
//! act needs.

use super::EnrolmentId;
use super::Reading;
use super::SittingId;
use super::StoreError;
use super::presentations::PRESENTATIONS;
use super::presentations::PresentationRow;
use super::presentations::presentation_from;
use super::rows::column;
use crate::seal::Canonical;
use crate::seal::Event;
use crate::seal::Salt;

/// What a listener's steps left behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnrolmentTrace {
    /// The version of the consent that she agreed to.
    pub consent_version: Option<String>,
    /// Whether she agreed as somebody of age, where the plan asks: `adult` or `minor`.
    pub assent: Option<String>,
    /// The salt of the digest of her answers.
    pub answers_salt: Option<Salt>,
    /// The salt of the digest of her closing answers.
    pub closing_salt: Option<Salt>,
}

/// A sitting, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SittingTrace {
    /// The row.
    pub id: SittingId,
    /// The listener's code.
    pub listener: String,
    /// Counted from 1 for its listener.
    pub number: u32,
    /// The stream of the round's seed.
    pub stream: u64,
    /// When it began.
    pub begun_ms: i64,
    /// When it ended.
    pub ended_ms: Option<i64>,
    /// Why it ended.
    pub ended_why: Option<String>,
}

/// A bar, by codes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BarTrace {
    /// The listener's code.
    pub listener: String,
    /// The child's code.
    pub child: String,
    /// Why: `barred` or `known-speaker`.
    pub why: String,
    /// Since when.
    pub since_ms: i64,
    /// The salt of what the log says of it, where it was made after the seal.
    pub salt: Option<Salt>,
}

impl Reading<'_> {
    /// What the engine says against the file: damaged pages, and rows that point to none.
    ///
    /// # Errors
    /// [`StoreError`] if the engine cannot even look.
    pub fn integrity(&self) -> Result<Vec<String>, StoreError> {
        let mut said = self.all("PRAGMA integrity_check", &[], |row| {
            column::<String>(row, "integrity_check")
        })?;
        said.retain(|line| line != "ok");
        let orphans = self.all("PRAGMA foreign_key_check", &[], |row| {
            let (table, parent): (String, String) = (column(row, "table")?, column(row, "parent")?);
            Ok(format!(
                "a row of {table} points to a row of {parent} that is not there"
            ))
        })?;
        said.extend(orphans);
        Ok(said)
    }

    /// The log as it is stored, digests unread.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn log_as_stored(&self) -> Result<Vec<(Event, String)>, StoreError> {
        self.all(
            "SELECT seq, at_ms, kind, body, digest FROM event ORDER BY seq",
            &[],
            |row| {
                let seq: i64 = column(row, "seq")?;
                let event = Event {
                    seq: u64::try_from(seq).unwrap_or(0),
                    at_utc_ms: column(row, "at_ms")?,
                    kind: column(row, "kind")?,
                    body: Canonical::stored(column::<String>(row, "body")?),
                };
                Ok((event, column(row, "digest")?))
            },
        )
    }

    /// Every place of the study.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn presentations(&self) -> Result<Vec<PresentationRow>, StoreError> {
        let sql = format!("{PRESENTATIONS} ORDER BY sitting_id, place");
        self.all(&sql, &[], presentation_from)
    }

    /// Every sitting of the study.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sittings(&self) -> Result<Vec<SittingTrace>, StoreError> {
        self.all(
            "SELECT sitting.id, listener.code, sitting.number, sitting.stream, sitting.begun_ms,
                    sitting.ended_ms, sitting.ended_why
             FROM sitting
             JOIN enrolment ON enrolment.id = sitting.enrolment_id
             JOIN listener ON listener.id = enrolment.listener_id
             ORDER BY sitting.id",
            &[],
            |row| {
                let stream: i64 = column(row, "stream")?;
                Ok(SittingTrace {
                    id: column(row, "id")?,
                    listener: column(row, "code")?,
                    number: column(row, "number")?,
                    stream: u64::try_from(stream).unwrap_or(0),
                    begun_ms: column(row, "begun_ms")?,
                    ended_ms: column(row, "ended_ms")?,
                    ended_why: column(row, "ended_why")?,
                })
            },
        )
    }

    /// What a listener's steps left behind, beside what the acts read.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn trace_of(&self, enrolment: EnrolmentId) -> Result<Option<EnrolmentTrace>, StoreError> {
        self.first(
            "SELECT consent_version, assent, answers_salt, closing_salt FROM enrolment WHERE id = :id",
            &[(":id", &enrolment)],
            |row| {
                Ok(EnrolmentTrace {
                    consent_version: column(row, "consent_version")?,
                    assent: column(row, "assent")?,
                    answers_salt: column::<Option<_>>(row, "answers_salt")?.map(Salt::new),
                    closing_salt: column::<Option<_>>(row, "closing_salt")?.map(Salt::new),
                })
            },
        )
    }

    /// Every bar of the study.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn bars_by_code(&self) -> Result<Vec<BarTrace>, StoreError> {
        self.all(
            "SELECT listener.code AS listener, child.code AS child, bar.why, bar.since_ms, bar.salt
             FROM bar
             JOIN listener ON listener.id = bar.listener_id
             JOIN child ON child.id = bar.child_id
             ORDER BY listener.code, child.code",
            &[],
            |row| {
                let salt: Option<[u8; 16]> = column(row, "salt")?;
                Ok(BarTrace {
                    listener: column(row, "listener")?,
                    child: column(row, "child")?,
                    why: column(row, "why")?,
                    since_ms: column(row, "since_ms")?,
                    salt: salt.map(Salt::new),
                })
            },
        )
    }

    /// How many tokens there are, those without prepared sound included.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn n_tokens(&self) -> Result<u64, StoreError> {
        let count = self.first("SELECT count(*) AS n FROM token", &[], |row| {
            column::<i64>(row, "n")
        })?;
        Ok(count.and_then(|n| u64::try_from(n).ok()).unwrap_or(0))
    }

    /// Words and children of whom the store says in part that they are left out, and in part not.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn half_left_out(&self) -> Result<u64, StoreError> {
        let count = self.first(
            "SELECT (SELECT count(*) FROM token
                     WHERE (excluded IS NULL) <> (excluded_ms IS NULL)
                        OR (excluded IS NULL) <> (excluded_salt IS NULL))
                  + (SELECT count(*) FROM child
                     WHERE (stopped_ms IS NULL) <> (stopped_salt IS NULL)) AS n",
            &[],
            |row| column::<i64>(row, "n"),
        )?;
        Ok(count.and_then(|n| u64::try_from(n).ok()).unwrap_or(0))
    }

    /// When the study was made.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn study_made_ms(&self) -> Result<Option<i64>, StoreError> {
        self.first("SELECT made_ms FROM study", &[], |row| {
            column(row, "made_ms")
        })
    }

    /// Listeners who are in no round.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn listeners_without_round(&self) -> Result<Vec<String>, StoreError> {
        self.all(
            "SELECT code FROM listener
             WHERE id NOT IN (SELECT listener_id FROM enrolment) ORDER BY code",
            &[],
            |row| column(row, "code"),
        )
    }
}
