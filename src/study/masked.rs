//! Masked visual analysis: where an analyst saw a change begin in a graph that names nobody.

use super::RoundName;
use super::RoundState;
use super::Sureness;

/// Proof that the unnamed graphs of a round may be drawn: it is closed, and the log tells that a masked analysis was begun.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Masked {
    round: RoundName,
}

impl Masked {
    /// The proof, if the round's state gives it and a masked analysis of it was begun.
    pub fn of(round: RoundName, state: RoundState, begun: bool) -> Option<Self> {
        let over = matches!(state, RoundState::Closed | RoundState::Unlocked);
        (over && begun).then_some(Self { round })
    }

    /// The round whose graphs they are.
    pub const fn round(&self) -> &RoundName {
        &self.round
    }
}

/// Where a change was seen to begin, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct MaskedMark {
    /// The first point after the change, counted from 1 in its graph; nothing where no change was seen.
    pub before: Option<u32>,
    /// How sure.
    pub sure: Sureness,
}

/// What an analyst says of a graph.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GraphMark {
    /// The number of the graph.
    pub graph: u32,
    /// Where a change began.
    pub mark: MaskedMark,
}

/// A child's graph without anything that tells whose it is: points in their order, and where a change was seen.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct UnnamedGraph {
    /// Its number, in an order that was drawn.
    pub number: u32,
    /// The share heard as correct at each point, in order: no date, phase, condition or count of words.
    pub shares: Vec<f64>,
    /// What the analyst said of it so far.
    pub mark: Option<MaskedMark>,
}

/// A masked analysis as an unlocked round tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedRecord {
    /// The code of the analyst's account.
    pub analyst: String,
    /// When it was begun, RFC 3339 in UTC.
    pub begun: String,
    /// When it was finished; empty where the round was unlocked before.
    pub finished: String,
    /// What the order of the graphs was drawn from, in hex.
    pub seed: String,
    /// Each graph with the child behind it.
    pub graphs: Vec<MaskedGraphRecord>,
}

/// A graph of a masked analysis, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedGraphRecord {
    /// Its number.
    pub number: u32,
    /// The child.
    pub child: String,
    /// What the analyst said of it.
    pub mark: Option<MaskedMark>,
}
