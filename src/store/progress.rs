//! How far a round has come, without any outcome.

use super::Reading;
use super::RoundId;
use super::StoreError;
use super::rows::column;
use super::rows::parsed;
use crate::study::ListenerCode;

/// How far one listener came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListenerProgressRow {
    /// The number of her link.
    pub number: u32,
    /// Her code.
    pub code: ListenerCode,
    /// Presentations that she judged or set aside.
    pub done: u32,
    /// Presentations of her sittings that were not dropped.
    pub of: u32,
    /// Whether she finished.
    pub finished: bool,
}

impl Reading<'_> {
    /// For each scored token that is in use its stratum and how often it was judged.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn judged_counts(&self, round: RoundId) -> Result<Vec<(u32, u32)>, StoreError> {
        self.all(
            "SELECT round_token.stratum,
                    count(presentation.id) FILTER (WHERE presentation.state = 'judged') AS judged
             FROM round_token
             JOIN in_use ON in_use.token_id = round_token.token_id
             LEFT JOIN presentation ON presentation.round_token_id = round_token.id
                  AND presentation.kind = 'main'
             WHERE round_token.round_id = :round AND round_token.stratum IS NOT NULL
             GROUP BY round_token.id
             ORDER BY round_token.number",
            &[(":round", &round)],
            |row| Ok((column(row, "stratum")?, column(row, "judged")?)),
        )
    }

    /// How far each listener of a round came.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn listener_progress(
        &self,
        round: RoundId,
    ) -> Result<Vec<ListenerProgressRow>, StoreError> {
        self.all(
            "SELECT enrolment.number, listener.code,
                    count(presentation.id)
                        FILTER (WHERE presentation.state IN ('judged', 'aside')) AS done,
                    count(presentation.id)
                        FILTER (WHERE presentation.state <> 'dropped') AS of_all,
                    enrolment.finished_ms IS NOT NULL AS finished
             FROM enrolment
             JOIN listener ON listener.id = enrolment.listener_id
             LEFT JOIN sitting ON sitting.enrolment_id = enrolment.id
             LEFT JOIN presentation ON presentation.sitting_id = sitting.id
                  AND presentation.kind <> 'example'
             WHERE enrolment.round_id = :round
             GROUP BY enrolment.id
             ORDER BY enrolment.number",
            &[(":round", &round)],
            |row| {
                Ok(ListenerProgressRow {
                    number: column(row, "number")?,
                    code: parsed(row, "listener", "code")?,
                    done: column(row, "done")?,
                    of: column(row, "of_all")?,
                    finished: column(row, "finished")?,
                })
            },
        )
    }
}
