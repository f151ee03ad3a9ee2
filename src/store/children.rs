//! Children and their sessions.

use super::ChildId;
use super::Reading;
use super::SessionId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Condition;
use crate::study::Phase;

/// A child of the study, or a peer.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildRow {
    /// The row.
    pub id: ChildId,
    /// The code.
    pub code: ChildCode,
    /// The way of treating.
    pub cohort: Option<Cohort>,
    /// Whether this is a child with typical speech, heard as a yardstick.
    pub peer: bool,
}

/// A recording occasion.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionRow {
    /// The row.
    pub id: SessionId,
    /// Whose it is.
    pub child: ChildId,
    /// Counted from 1.
    pub ordinal: u32,
    /// Its phase.
    pub phase: Phase,
    /// Its condition, where ways of treating alternate.
    pub condition: Option<Condition>,
    /// The day.
    pub date: Option<jiff::civil::Date>,
    /// The child's age that day, in months.
    pub age_months: Option<u32>,
}

impl Reading<'_> {
    /// All children, in the order of their codes.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn children(&self) -> Result<Vec<ChildRow>, StoreError> {
        self.all(
            "SELECT id, code, cohort, peer FROM child ORDER BY code",
            &[],
            |row| {
                Ok(ChildRow {
                    id: column(row, "id")?,
                    code: parsed(row, "child", "code")?,
                    cohort: parsed_if_any(row, "child", "cohort")?,
                    peer: column(row, "peer")?,
                })
            },
        )
    }

    /// All sessions, by child and ordinal.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sessions(&self) -> Result<Vec<SessionRow>, StoreError> {
        self.all(
            "SELECT id, child_id, ordinal, phase, condition, date, age_months FROM session
             ORDER BY child_id, ordinal",
            &[],
            |row| {
                Ok(SessionRow {
                    id: column(row, "id")?,
                    child: column(row, "child_id")?,
                    ordinal: column(row, "ordinal")?,
                    phase: parsed(row, "session", "phase")?,
                    condition: parsed_if_any(row, "session", "condition")?,
                    date: parsed_if_any(row, "session", "date")?,
                    age_months: column(row, "age_months")?,
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Adds a child.
    ///
    /// # Errors
    /// [`StoreError`] if the code is taken or the row cannot be written.
    pub fn add_child(
        &self,
        code: &ChildCode,
        cohort: Option<&Cohort>,
        peer: bool,
    ) -> Result<ChildId, StoreError> {
        self.insert(
            "INSERT INTO child (code, cohort, peer) VALUES (:code, :cohort, :peer)",
            &[
                (":code", &code.as_str()),
                (":cohort", &cohort.map(Cohort::as_str)),
                (":peer", &peer),
            ],
        )
        .map(ChildId)
    }

    /// Says of a child who was added before her recordings how she is treated.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn describe_child(
        &self,
        child: ChildId,
        cohort: Option<&Cohort>,
        peer: bool,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE child SET cohort = :cohort, peer = :peer WHERE id = :child",
            &[
                (":cohort", &cohort.map(Cohort::as_str)),
                (":peer", &peer),
                (":child", &child),
            ],
        )?;
        Ok(())
    }

    /// Adds a session; the id in `session` is not looked at.
    ///
    /// # Errors
    /// [`StoreError`] if the child has that ordinal already or the row cannot be written.
    pub fn add_session(&self, session: &SessionRow) -> Result<SessionId, StoreError> {
        self.insert(
            "INSERT INTO session (child_id, ordinal, phase, condition, date, age_months)
             VALUES (:child, :ordinal, :phase, :condition, :date, :age)",
            &[
                (":child", &session.child),
                (":ordinal", &session.ordinal),
                (":phase", &session.phase.as_str()),
                (
                    ":condition",
                    &session.condition.as_ref().map(Condition::as_str),
                ),
                (":date", &session.date.map(|date| date.to_string())),
                (":age", &session.age_months),
            ],
        )
        .map(SessionId)
    }
}
