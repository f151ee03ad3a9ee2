//! What listeners said of their sound, a row a check.

use super::EnrolmentId;
use super::Reading;
use super::RoundId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::study::ListenerCode;

/// One check of a listener's sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoundCheckRow {
    /// Counted from 1 for its listener.
    pub number: u32,
    /// The digest of the cookie of the browser that was checked.
    pub visit: Option<String>,
    /// When it was sent.
    pub checked_ms: i64,
    /// What she said, as JSON.
    pub said: String,
}

/// The same, with whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoundCheckSaid {
    /// Who.
    pub listener: ListenerCode,
    /// Counted from 1 for its listener.
    pub number: u32,
    /// What she said, as JSON.
    pub said: String,
}

impl Reading<'_> {
    /// A listener's checks in their order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sound_checks_of(
        &self,
        enrolment: EnrolmentId,
    ) -> Result<Vec<SoundCheckRow>, StoreError> {
        self.all(
            "SELECT number, visit, checked_ms, said FROM sound_check
             WHERE enrolment_id = :enrolment ORDER BY number",
            &[(":enrolment", &enrolment)],
            |row| {
                Ok(SoundCheckRow {
                    number: column(row, "number")?,
                    visit: column(row, "visit")?,
                    checked_ms: column(row, "checked_ms")?,
                    said: column(row, "said")?,
                })
            },
        )
    }

    /// The checks of a round's listeners who did not withdraw, in the order of their links.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sound_checks(&self, round: RoundId) -> Result<Vec<SoundCheckSaid>, StoreError> {
        self.all(
            "SELECT listener.code, sound_check.number, sound_check.said
             FROM sound_check
             JOIN enrolment ON enrolment.id = sound_check.enrolment_id
             JOIN listener ON listener.id = enrolment.listener_id
             WHERE enrolment.round_id = :round AND listener.withdrawn_ms IS NULL
             ORDER BY enrolment.number, sound_check.number",
            &[(":round", &round)],
            |row| {
                Ok(SoundCheckSaid {
                    listener: parsed(row, "listener", "code")?,
                    number: column(row, "number")?,
                    said: column(row, "said")?,
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Adds a check of a listener's sound.
    ///
    /// # Errors
    /// [`StoreError`] if the number is taken or the row cannot be written.
    pub fn add_sound_check(
        &self,
        enrolment: EnrolmentId,
        new: &SoundCheckRow,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO sound_check (enrolment_id, number, visit, checked_ms, said)
             VALUES (:enrolment, :number, :visit, :checked, :said)",
            &[
                (":enrolment", &enrolment),
                (":number", &new.number),
                (":visit", &new.visit),
                (":checked", &new.checked_ms),
                (":said", &new.said),
            ],
        )?;
        Ok(())
    }
}
