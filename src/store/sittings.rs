//! Sittings: one listener's ordered list of presentations.

use super::EnrolmentId;
use super::Reading;
use super::RoundId;
use super::SittingId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use crate::study::PresentationId;

/// A sitting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SittingRow {
    /// The row.
    pub id: SittingId,
    /// Whose it is.
    pub enrolment: EnrolmentId,
    /// Counted from 1 for its listener.
    pub number: u32,
    /// The stream of the round's seed that its order was drawn from.
    pub stream: u64,
    /// When it began.
    pub begun_ms: i64,
    /// When it was last heard of.
    pub last_ms: i64,
    /// When it ended.
    pub ended_ms: Option<i64>,
    /// Why it ended.
    pub ended_why: Option<String>,
}

const SITTINGS: &str = "SELECT sitting.id, sitting.enrolment_id, sitting.number, sitting.stream,
                               sitting.begun_ms, sitting.last_ms, sitting.ended_ms,
                               sitting.ended_why
                        FROM sitting";

fn sitting_from(row: &rusqlite::Row<'_>) -> Result<SittingRow, StoreError> {
    let stream: i64 = column(row, "stream")?;
    Ok(SittingRow {
        id: column(row, "id")?,
        enrolment: column(row, "enrolment_id")?,
        number: column(row, "number")?,
        stream: u64::try_from(stream).unwrap_or(0),
        begun_ms: column(row, "begun_ms")?,
        last_ms: column(row, "last_ms")?,
        ended_ms: column(row, "ended_ms")?,
        ended_why: column(row, "ended_why")?,
    })
}

impl Reading<'_> {
    /// A listener's sittings in their order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sittings_of(&self, enrolment: EnrolmentId) -> Result<Vec<SittingRow>, StoreError> {
        let sql =
            format!("{SITTINGS} WHERE sitting.enrolment_id = :enrolment ORDER BY sitting.number");
        self.all(&sql, &[(":enrolment", &enrolment)], sitting_from)
    }

    /// All sittings of a round in the order in which they were drawn.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sittings_in(&self, round: RoundId) -> Result<Vec<SittingRow>, StoreError> {
        let sql = format!(
            "{SITTINGS} JOIN enrolment ON enrolment.id = sitting.enrolment_id
             WHERE enrolment.round_id = :round ORDER BY sitting.stream"
        );
        self.all(&sql, &[(":round", &round)], sitting_from)
    }

    /// How many words a sitting shows: the most that were ever to be heard in it at once.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn words_of_sitting(&self, sitting: SittingId) -> Result<u32, StoreError> {
        let sql = "SELECT words FROM sitting WHERE id = :id";
        let words = self.first(sql, &[(":id", &sitting)], |row| column(row, "words"))?;
        Ok(words.unwrap_or(0))
    }
}

impl Writing<'_> {
    /// Begins a sitting.
    ///
    /// # Errors
    /// [`StoreError`] if the listener has that number already or the row cannot be written.
    pub fn add_sitting(
        &self,
        enrolment: EnrolmentId,
        number: u32,
        stream: u64,
        now_ms: i64,
    ) -> Result<SittingId, StoreError> {
        self.insert(
            "INSERT INTO sitting (enrolment_id, number, stream, begun_ms, last_ms)
             VALUES (:enrolment, :number, :stream, :now, :now)",
            &[
                (":enrolment", &enrolment),
                (":number", &number),
                (":stream", &i64::try_from(stream).unwrap_or(i64::MAX)),
                (":now", &now_ms),
            ],
        )
        .map(SittingId)
    }

    /// Notes that a sitting was heard of.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn touch_sitting(&self, sitting: SittingId, now_ms: i64) -> Result<(), StoreError> {
        self.run(
            "UPDATE sitting SET last_ms = max(last_ms, :now) WHERE id = :id",
            &[(":now", &now_ms), (":id", &sitting)],
        )?;
        Ok(())
    }

    /// Ends a sitting; says whether it was still going on.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn end_sitting(
        &self,
        sitting: SittingId,
        why: &str,
        now_ms: i64,
    ) -> Result<bool, StoreError> {
        let ended = self.run(
            "UPDATE sitting SET ended_ms = :now, ended_why = :why
             WHERE id = :id AND ended_ms IS NULL",
            &[(":now", &now_ms), (":why", &why), (":id", &sitting)],
        )?;
        Ok(ended > 0)
    }

    /// Drops every place of a sitting that waits. Says which.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be written.
    pub fn drop_waiting_places(
        &self,
        sitting: SittingId,
    ) -> Result<Vec<PresentationId>, StoreError> {
        self.all(
            "UPDATE presentation SET state = 'dropped'
             WHERE sitting_id = :sitting AND state IN ('reserved', 'returned')
               AND kind <> 'example'
             RETURNING id",
            &[(":sitting", &sitting)],
            |row| Ok(PresentationId::new(column(row, "id")?)),
        )
    }

    /// Gives back the places of sittings of a round that were last heard of before `before_ms`:
    /// what was reserved becomes returned. Says which sittings gave back which places.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be written.
    pub fn give_back_idle(
        &self,
        round: RoundId,
        before_ms: i64,
    ) -> Result<Vec<(SittingRow, Vec<PresentationId>)>, StoreError> {
        let idle = self.all(
            "SELECT DISTINCT sitting.id, sitting.enrolment_id, sitting.number, sitting.stream,
                    sitting.begun_ms, sitting.last_ms, sitting.ended_ms, sitting.ended_why
             FROM sitting
             JOIN enrolment ON enrolment.id = sitting.enrolment_id
             JOIN presentation ON presentation.sitting_id = sitting.id
             WHERE enrolment.round_id = :round AND sitting.last_ms < :before
               AND presentation.state = 'reserved' AND presentation.kind = 'main'
             ORDER BY sitting.id",
            &[(":round", &round), (":before", &before_ms)],
            sitting_from,
        )?;
        idle.into_iter()
            .map(|sitting| {
                let places = self.all(
                    "UPDATE presentation SET state = 'returned'
                     WHERE sitting_id = :sitting AND state = 'reserved' AND kind = 'main'
                     RETURNING id",
                    &[(":sitting", &sitting.id)],
                    |row| Ok(PresentationId::new(column(row, "id")?)),
                )?;
                Ok((sitting, places))
            })
            .collect()
    }
}
