//! How far a round has come, without any outcome.

use super::Reading;
use super::RoundId;
use super::StoreError;
use super::rows::column;
use super::rows::parsed;
use crate::study::ListenerCode;
use crate::study::ListenerKind;

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
    /// When she first opened her link.
    pub opened_ms: Option<i64>,
    /// Whether she came by an open link.
    pub by_open_link: bool,
    /// Until when her link lets her in for the first time.
    pub expires_ms: Option<i64>,
    /// When her link was taken back.
    pub revoked_ms: Option<i64>,
    /// When a sealed rule let her go.
    pub let_go_ms: Option<i64>,
}

impl Reading<'_> {
    /// For each scored token that is in use its stratum and how often it was judged, by listeners of
    /// this kind who were neither let go nor withdrew.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn judged_counts(
        &self,
        round: RoundId,
        kind: ListenerKind,
    ) -> Result<Vec<(u32, u32)>, StoreError> {
        self.all(
            "SELECT round_token.stratum,
                    count(presentation.id)
                        FILTER (WHERE presentation.state = 'judged' AND enrolment.let_go_ms IS NULL
                                  AND listener.withdrawn_ms IS NULL
                                  AND listener.kind = :kind) AS judged
             FROM round_token
             JOIN in_use ON in_use.token_id = round_token.token_id
             LEFT JOIN presentation ON presentation.round_token_id = round_token.id
                  AND presentation.kind = 'main'
             LEFT JOIN sitting ON sitting.id = presentation.sitting_id
             LEFT JOIN enrolment ON enrolment.id = sitting.enrolment_id
             LEFT JOIN listener ON listener.id = enrolment.listener_id
             WHERE round_token.round_id = :round AND round_token.stratum IS NOT NULL
             GROUP BY round_token.id
             ORDER BY round_token.number",
            &[(":round", &round), (":kind", &kind.as_str())],
            |row| Ok((column(row, "stratum")?, column(row, "judged")?)),
        )
    }

    /// How far each listener of a round came, those who withdrew left out.
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
                    enrolment.finished_ms IS NOT NULL AS finished,
                    enrolment.open_link_id IS NOT NULL AS by_open_link, enrolment.opened_ms,
                    enrolment.expires_ms, enrolment.revoked_ms, enrolment.let_go_ms
             FROM enrolment
             JOIN listener ON listener.id = enrolment.listener_id
             LEFT JOIN sitting ON sitting.enrolment_id = enrolment.id
             LEFT JOIN presentation ON presentation.sitting_id = sitting.id
                  AND presentation.kind <> 'example'
             WHERE enrolment.round_id = :round AND listener.withdrawn_ms IS NULL
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
                    opened_ms: column(row, "opened_ms")?,
                    by_open_link: column(row, "by_open_link")?,
                    expires_ms: column(row, "expires_ms")?,
                    revoked_ms: column(row, "revoked_ms")?,
                    let_go_ms: column(row, "let_go_ms")?,
                })
            },
        )
    }
}
