//! Plays: how often a word was heard to its end.

use std::collections::BTreeSet;

use super::Reading;
use super::SittingId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use crate::study::PlayName;
use crate::study::PresentationId;

/// One play of a word to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlayRow {
    /// What was played.
    pub presentation: PresentationId,
    /// How many answers there were before.
    pub answers: u32,
}

impl Reading<'_> {
    /// How often a word was played to its end.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn n_plays(&self, id: PresentationId) -> Result<u32, StoreError> {
        let counted = self.first(
            "SELECT count(*) AS plays FROM play WHERE presentation_id = :id",
            &[(":id", &id.bytes())],
            |row| column(row, "plays"),
        )?;
        Ok(counted.unwrap_or(0))
    }

    /// What was played to its end in a sitting.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn heard_in(&self, sitting: SittingId) -> Result<BTreeSet<PresentationId>, StoreError> {
        let heard = self.all(
            "SELECT DISTINCT play.presentation_id FROM play
             JOIN presentation ON presentation.id = play.presentation_id
             WHERE presentation.sitting_id = :sitting",
            &[(":sitting", &sitting)],
            |row| Ok(PresentationId::new(column(row, "presentation_id")?)),
        )?;
        Ok(heard.into_iter().collect())
    }

    /// Every play of the study, by presentation.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn plays(&self) -> Result<Vec<PlayRow>, StoreError> {
        self.all(
            "SELECT presentation_id, answers FROM play ORDER BY presentation_id, answers",
            &[],
            |row| {
                Ok(PlayRow {
                    presentation: PresentationId::new(column(row, "presentation_id")?),
                    answers: column(row, "answers")?,
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Notes a play; one of the same name changes nothing.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_play(&self, id: PresentationId, name: PlayName) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO play (presentation_id, name, answers)
             VALUES (:id, :name, (SELECT count(*) FROM judgement WHERE presentation_id = :id))
             ON CONFLICT DO NOTHING",
            &[(":id", &id.bytes()), (":name", &name.bytes())],
        )?;
        Ok(())
    }
}
