//! Series: any outcome of single cases, one value a session.

use super::Labels;

/// The values of single cases in the order of their source, with every name written once.
#[derive(Debug, Clone, Default)]
pub struct Series {
    /// The cases.
    pub cases: Labels,
    /// The phases.
    pub phases: Labels,
    /// The conditions, where ways of treating alternate.
    pub conditions: Labels,
    /// One row a session of a case.
    pub rows: Vec<SeriesRow>,
}

/// One value; names are numbers into the [`Labels`] of its table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesRow {
    /// Whose.
    pub case: u32,
    /// When: sessions are ordered by this number.
    pub session: u32,
    /// In which phase.
    pub phase: u32,
    /// The value, in any unit.
    pub value: f64,
    /// Under which condition.
    pub condition: Option<u32>,
}
