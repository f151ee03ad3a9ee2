//! Masked visual analyses: the order of the unnamed graphs, and what was seen in them.

use super::ChildId;
use super::MaskedId;
use super::Reading;
use super::RoundId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::seal::Salt;
use crate::study::ChildCode;
use crate::study::MaskedMark;
use crate::study::RoundName;

/// A masked analysis of a round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedRow {
    /// The row.
    pub id: MaskedId,
    /// The round.
    pub round: RoundName,
    /// The code of the analyst's account.
    pub analyst: String,
    /// What the order of the graphs was drawn from.
    pub seed: [u8; 32],
    /// When it was begun.
    pub begun_ms: i64,
    /// When it was finished.
    pub finished_ms: Option<i64>,
}

/// A graph of a masked analysis, and the child behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedGraphRow {
    /// The analysis.
    pub analysis: MaskedId,
    /// The round.
    pub round: RoundName,
    /// When the analysis was begun.
    pub begun_ms: i64,
    /// Its place in the order that was drawn, counted from 1.
    pub number: u32,
    /// The child.
    pub code: ChildCode,
    /// The salt of its digest in the log.
    pub salt: Salt,
    /// What was seen in it.
    pub mark: Option<MaskedMarkRow>,
}

/// What was seen in a graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedMarkRow {
    /// Where a change began, and how sure that is.
    pub mark: MaskedMark,
    /// When it was said.
    pub marked_ms: i64,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

impl Reading<'_> {
    /// Every masked analysis, in the order in which they were begun.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn masked_analyses(&self) -> Result<Vec<MaskedRow>, StoreError> {
        self.all(
            "SELECT masked_analysis.id, round.name, analyst, masked_analysis.seed, begun_ms, finished_ms
             FROM masked_analysis JOIN round ON round.id = round_id ORDER BY masked_analysis.id",
            &[],
            |row| {
                Ok(MaskedRow {
                    id: column(row, "id")?,
                    round: parsed(row, "round", "name")?,
                    analyst: column(row, "analyst")?,
                    seed: column(row, "seed")?,
                    begun_ms: column(row, "begun_ms")?,
                    finished_ms: column(row, "finished_ms")?,
                })
            },
        )
    }

    /// Every graph of every masked analysis, in their order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn masked_graphs(&self) -> Result<Vec<MaskedGraphRow>, StoreError> {
        self.all(
            "SELECT analysis_id, round.name, begun_ms, number, child.code, masked_graph.salt, sure, before_point,
                    marked_ms, mark_salt
             FROM masked_graph
             JOIN masked_analysis ON masked_analysis.id = analysis_id
             JOIN round ON round.id = masked_analysis.round_id
             JOIN child ON child.id = child_id
             ORDER BY analysis_id, number",
            &[],
            |row| {
                let sure = parsed_if_any(row, "masked_graph", "sure")?;
                let before = column(row, "before_point")?;
                let marked_ms: Option<i64> = column(row, "marked_ms")?;
                let salt: Option<[u8; 16]> = column(row, "mark_salt")?;
                let mark = sure.zip(marked_ms).zip(salt);
                Ok(MaskedGraphRow {
                    analysis: column(row, "analysis_id")?,
                    round: parsed(row, "round", "name")?,
                    begun_ms: column(row, "begun_ms")?,
                    number: column(row, "number")?,
                    code: parsed(row, "child", "code")?,
                    salt: Salt::new(column(row, "salt")?),
                    mark: mark.map(|((sure, marked_ms), salt)| MaskedMarkRow {
                        mark: MaskedMark { before, sure },
                        marked_ms,
                        salt: Salt::new(salt),
                    }),
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Begins a masked analysis of a round.
    ///
    /// # Errors
    /// [`StoreError`] if the round has one already, or the row cannot be written.
    pub fn begin_masked(
        &self,
        round: RoundId,
        analyst: &str,
        seed: &[u8; 32],
        now_ms: i64,
    ) -> Result<MaskedId, StoreError> {
        let id = self.insert(
            "INSERT INTO masked_analysis (round_id, analyst, seed, begun_ms)
             VALUES (:round, :analyst, :seed, :now)",
            &[
                (":round", &round),
                (":analyst", &analyst),
                (":seed", seed),
                (":now", &now_ms),
            ],
        )?;
        Ok(MaskedId(id))
    }

    /// Adds a graph.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_masked_graph(
        &self,
        analysis: MaskedId,
        number: u32,
        child: ChildId,
        salt: &Salt,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO masked_graph (analysis_id, number, child_id, salt)
             VALUES (:analysis, :number, :child, :salt)",
            &[
                (":analysis", &analysis),
                (":number", &number),
                (":child", &child),
                (":salt", salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Keeps what was seen in a graph, instead of what was said before.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn mark_masked_graph(
        &self,
        analysis: MaskedId,
        number: u32,
        row: &MaskedMarkRow,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE masked_graph SET sure = :sure, before_point = :before, marked_ms = :marked, mark_salt = :salt
             WHERE analysis_id = :analysis AND number = :number",
            &[
                (":analysis", &analysis),
                (":number", &number),
                (":sure", &row.mark.sure.as_str()),
                (":before", &row.mark.before),
                (":marked", &row.marked_ms),
                (":salt", row.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Finishes a masked analysis.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn finish_masked(&self, analysis: MaskedId, now_ms: i64) -> Result<(), StoreError> {
        self.run(
            "UPDATE masked_analysis SET finished_ms = :now WHERE id = :analysis",
            &[(":analysis", &analysis), (":now", &now_ms)],
        )?;
        Ok(())
    }
}
