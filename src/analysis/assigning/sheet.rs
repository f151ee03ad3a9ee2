//! What a sheet of an assignment shows.

use serde::Serialize;

use super::DrawNumbers;
use super::DrawnLine;
use crate::study::AssignmentPlan;

/// An assignment that was drawn and sealed, as it is printed and kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AssignmentSheet {
    /// What staff call the study.
    pub study: String,
    /// Counted from 1; each further one was drawn again.
    pub number: u32,
    /// When it was drawn, RFC 3339 in UTC.
    pub drawn: String,
    /// The seal.
    pub seal: String,
    /// The seals of the assignments that were drawn before.
    pub earlier: Vec<String>,
    /// Why it was drawn again.
    pub why: Option<String>,
    /// How many recordings had been imported by then.
    pub recordings: u64,
    /// Of them, recordings of the later phase: treatment had begun.
    pub later_recordings: u64,
    /// What the draw came from, in hex.
    pub seed: String,
    /// The version of the program that drew.
    pub program: String,
    /// The plan.
    pub plan: AssignmentPlan,
    /// How many draws there are.
    #[serde(flatten)]
    pub numbers: DrawNumbers,
    /// What was drawn, a line a case.
    pub lines: Vec<DrawnLine>,
}
