//! Judgements as a table: who judged what, how, and on which kind of presentation.

use super::Labels;
use super::PresentationKind;

/// A table of judgements in the order of its source, with every name written once.
#[derive(Debug, Clone, Default)]
pub struct Ratings {
    /// The items: tokens, or whatever was judged.
    pub items: Labels,
    /// The raters: listeners.
    pub raters: Labels,
    /// The different values that were given.
    pub values: Labels,
    /// One row a judgement.
    pub rows: Vec<Rating>,
    /// Rows whose value was empty: presented, not judged.
    pub missing: usize,
}

/// One judgement; names are numbers into the [`Labels`] of its table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// What was judged.
    pub item: u32,
    /// Who judged.
    pub rater: u32,
    /// How.
    pub value: u32,
    /// What the presentation was for.
    pub kind: PresentationKind,
    /// Its place in the rater's whole order, counted as the source counts.
    pub order: Option<u32>,
    /// From the end of the sound to the answer, in milliseconds.
    pub rt_ms: Option<f32>,
    /// How often the item was played again.
    pub replays: Option<u16>,
}

impl Ratings {
    /// The rows of one kind of presentation, in order.
    pub fn of_kind(&self, kind: PresentationKind) -> impl Iterator<Item = &Rating> {
        self.rows.iter().filter(move |row| row.kind == kind)
    }
}
