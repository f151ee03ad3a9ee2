//! Judgements: every revision is kept, the last counts.

use super::EnrolmentId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::Judgement;
use crate::study::PresentationId;

/// One answer of a listener.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgementRow {
    /// The presentation.
    pub presentation: PresentationId,
    /// Counted from 1; the last counts.
    pub revision: u32,
    /// What she heard.
    pub answer: Judgement,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
    /// The grain of the clock that measured it, in milliseconds.
    pub rt_grain_ms: Option<u32>,
    /// How often the word was played again.
    pub replays: u32,
    /// When the server had it.
    pub received_ms: i64,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

fn judgement_from(row: &rusqlite::Row<'_>) -> Result<JudgementRow, StoreError> {
    Ok(JudgementRow {
        presentation: PresentationId::new(column(row, "presentation_id")?),
        revision: column(row, "revision")?,
        answer: parsed(row, "judgement", "answer")?,
        rt_ms: column(row, "rt_ms")?,
        rt_grain_ms: column(row, "rt_grain_ms")?,
        replays: column(row, "replays")?,
        received_ms: column(row, "received_ms")?,
        salt: Salt::new(column(row, "salt")?),
    })
}

const JUDGEMENTS: &str = "SELECT presentation_id, revision, answer, rt_ms, rt_grain_ms, replays,
                                 received_ms, salt FROM judgement";

impl Reading<'_> {
    /// The revisions of one presentation, first to last.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn judgements_of(&self, id: PresentationId) -> Result<Vec<JudgementRow>, StoreError> {
        let sql = format!("{JUDGEMENTS} WHERE presentation_id = :id ORDER BY revision");
        self.all(&sql, &[(":id", &id.bytes())], judgement_from)
    }

    /// When the server had each word's first answer of a listener, oldest first.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn answer_times(&self, enrolment: EnrolmentId) -> Result<Vec<i64>, StoreError> {
        self.all(
            "SELECT judgement.received_ms
             FROM judgement
             JOIN presentation ON presentation.id = judgement.presentation_id
             JOIN sitting ON sitting.id = presentation.sitting_id
             WHERE sitting.enrolment_id = :enrolment AND judgement.revision = 1
             ORDER BY judgement.received_ms",
            &[(":enrolment", &enrolment)],
            |row| column(row, "received_ms"),
        )
    }

    /// Every revision of the study, in the order in which they were written.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn judgements(&self) -> Result<Vec<JudgementRow>, StoreError> {
        self.all(&format!("{JUDGEMENTS} ORDER BY id"), &[], judgement_from)
    }
}

impl Writing<'_> {
    /// Adds a judgement.
    ///
    /// # Errors
    /// [`StoreError`] if that revision is there already or the row cannot be written.
    pub fn add_judgement(&self, judgement: &JudgementRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO judgement (presentation_id, revision, answer, rt_ms, rt_grain_ms, replays,
                                    received_ms, salt)
             VALUES (:presentation, :revision, :answer, :rt, :grain, :replays, :received, :salt)",
            &[
                (":presentation", &judgement.presentation.bytes()),
                (":revision", &judgement.revision),
                (":answer", &judgement.answer.as_str()),
                (":rt", &judgement.rt_ms),
                (":grain", &judgement.rt_grain_ms),
                (":replays", &judgement.replays),
                (":received", &judgement.received_ms),
                (":salt", judgement.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }
}
