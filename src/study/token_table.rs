//! What is known of each token: a table to be joined with judgements once results may be seen.

use jiff::civil::Date;

use super::Labels;
use super::Use;

/// The scored tokens, one row each; row `i` tells of the token whose number is `i`.
#[derive(Debug, Clone, Default)]
pub struct TokenTable {
    /// The tokens.
    pub tokens: Labels,
    /// The children.
    pub children: Labels,
    /// The phases, in the order of their first appearance.
    pub phases: Labels,
    /// The ways of treating a child belongs to.
    pub cohorts: Labels,
    /// The ways of treating within a child.
    pub conditions: Labels,
    /// The words.
    pub words: Labels,
    /// One row a token.
    pub rows: Vec<TokenRow>,
    /// Tokens that are not scored (checks, practice, examples): named in the file, left out here.
    pub unscored: Labels,
}

/// What is known of one token; names are numbers into the [`Labels`] of its table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TokenRow {
    /// Who spoke.
    pub child: u32,
    /// The recording occasion, counted from 1.
    pub session: u32,
    /// The phase of that session.
    pub phase: u32,
    /// The child's way of treating.
    pub cohort: Option<u32>,
    /// The session's way of treating, where ways alternate.
    pub condition: Option<u32>,
    /// The day of the recording.
    pub date: Option<Date>,
    /// The word that was said.
    pub word: Option<u32>,
    /// Whether the word was practised in treatment.
    pub treated: Option<bool>,
    /// Scored, or a peer of the same age.
    pub use_: Use,
}
