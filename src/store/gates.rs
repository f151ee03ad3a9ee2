//! What listeners came to between two words, and when they went on.

use super::Reading;
use super::SittingId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;

/// What a listener comes to between two words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GateKind {
    /// A rest.
    Rest,
    /// The next sound to judge.
    Block,
    /// The practice once more, as it was not passed.
    Again,
    /// The practice once more, after a long absence.
    Away,
}

impl GateKind {
    const ALL: [Self; 4] = [Self::Rest, Self::Block, Self::Again, Self::Away];

    /// As the table and the log write it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Block => "block",
            Self::Again => "again",
            Self::Away => "away",
        }
    }
}

impl std::str::FromStr for GateKind {
    type Err = String;
    fn from_str(raw: &str) -> Result<Self, String> {
        let known = Self::ALL.into_iter().find(|kind| kind.as_str() == raw);
        known.ok_or_else(|| format!("`{raw}` is nothing between two words"))
    }
}

/// Where a listener went on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GateRow {
    /// The sitting.
    pub sitting: SittingId,
    /// The place that came next.
    pub place: u32,
    /// What stood before it.
    pub kind: GateKind,
    /// When she went on.
    pub passed_ms: i64,
}

const GATES: &str = "SELECT sitting_id, place, kind, passed_ms FROM gate";

fn gate_from(row: &rusqlite::Row<'_>) -> Result<GateRow, StoreError> {
    Ok(GateRow {
        sitting: column(row, "sitting_id")?,
        place: column(row, "place")?,
        kind: parsed(row, "gate", "kind")?,
        passed_ms: column(row, "passed_ms")?,
    })
}

impl Reading<'_> {
    /// Where a sitting was gone on with, in the order of going on.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn gates_of(&self, sitting: SittingId) -> Result<Vec<GateRow>, StoreError> {
        let sql = format!("{GATES} WHERE sitting_id = :sitting ORDER BY id");
        self.all(&sql, &[(":sitting", &sitting)], gate_from)
    }

    /// The same of every sitting of the study.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn gates(&self) -> Result<Vec<GateRow>, StoreError> {
        self.all(&format!("{GATES} ORDER BY id"), &[], gate_from)
    }
}

impl Writing<'_> {
    /// Notes that a listener went on; says whether that was new. The first time stands.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_gate(&self, gate: &GateRow) -> Result<bool, StoreError> {
        let added = self.run(
            "INSERT INTO gate (sitting_id, place, kind, passed_ms)
             VALUES (:sitting, :place, :kind, :passed)
             ON CONFLICT (sitting_id, place, kind) DO NOTHING",
            &[
                (":sitting", &gate.sitting),
                (":place", &gate.place),
                (":kind", &gate.kind.as_str()),
                (":passed", &gate.passed_ms),
            ],
        )?;
        Ok(added > 0)
    }
}
