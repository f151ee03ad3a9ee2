//! What is found of an outcome, in the order in which it is written.

use serde::Serialize;

use super::super::RandomisationFinding;
use super::super::Reasons;
use super::super::effects::Effects;
use super::ConditionsFinding;
use super::Settling;
use super::UnequalLists;
use super::WordSetsFinding;
use crate::study::plan::WordSet;
use crate::study::record::Look;

/// Sessions, changes and cohorts of a round.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// Each session of each child.
    pub sessions: Vec<SessionFinding>,
    /// Each child's change over the contrast.
    pub changes: Vec<ChangeFinding>,
    /// Two ways of treating that alternate within a child, beside each other.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<ConditionsFinding>,
    /// Two ways of treating that are carried by sets of words within a child, beside each other.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub word_sets: Vec<WordSetsFinding>,
    /// Children whose sessions do not hold the same words, with the change on the words that all of them hold.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unequal_lists: Vec<UnequalLists>,
    /// How many of these children would be called improved by chance alone, at most.
    pub false_improved_expected: f64,
    /// The looks at results, where they are counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub looks: Option<LooksFinding>,
    /// The cohorts side by side.
    pub cohorts: Vec<CohortFinding>,
    /// The cohorts against each other, where the children were assigned at random.
    pub cohort_test: Option<CohortTestFinding>,
    /// What was drawn within children, where that is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub randomisation: Option<RandomisationFinding>,
    /// The same sessions and changes for all listeners, the kept and the weighted, where a panel is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub panels: Option<Panels>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// How often results are seen, and what chance does over all these looks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LooksFinding {
    /// Looks so far, this one included.
    pub taken: u32,
    /// Looks that were planned.
    pub planned: Option<u32>,
    /// Planned looks that are still to come.
    pub to_come: Option<u32>,
    /// How many children would be called improved by chance alone at one look or another so far, at most.
    pub false_improved_expected: f64,
    /// The same once all planned looks are taken.
    pub false_improved_expected_at_the_end: Option<f64>,
}

impl LooksFinding {
    /// `by_chance`: how many at one look. Looks at the same children err together, so the sum is an upper figure.
    pub(super) fn new(look: Look, by_chance: f64) -> Self {
        Self {
            taken: look.taken,
            planned: look.planned,
            to_come: look.to_come(),
            false_improved_expected: by_chance * f64::from(look.taken),
            false_improved_expected_at_the_end: look
                .planned
                .map(|planned| by_chance * f64::from(planned.max(look.taken))),
        }
    }
}

/// Sessions and changes as one panel heard them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PanelFinding {
    /// Each session of each child.
    pub sessions: Vec<SessionFinding>,
    /// Each child's change over the contrast.
    pub changes: Vec<ChangeFinding>,
}

/// The outcome three ways.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Panels {
    /// Every listener, each alike.
    pub all: PanelFinding,
    /// The kept, each alike.
    pub kept: PanelFinding,
    /// Every listener that has a weight, by it.
    pub weighted: Option<PanelFinding>,
}

/// Which words a finding speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Words {
    /// Every word.
    All,
    /// Words practised in treatment.
    Treated,
    /// Words never practised.
    Untreated,
}

impl From<WordSet> for Words {
    fn from(words: WordSet) -> Self {
        match words {
            WordSet::All => Self::All,
            WordSet::Treated => Self::Treated,
            WordSet::Untreated => Self::Untreated,
        }
    }
}

/// One session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SessionFinding {
    /// The child's code.
    pub child: String,
    /// The recording occasion, counted from 1.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// Which words count.
    pub words: Words,
    /// Tokens that were judged.
    pub tokens: usize,
    /// Judgements of them.
    pub judgements: usize,
    /// The mean over words of the share judged correct.
    pub proportion_correct: Option<f64>,
    /// For new tokens and new listeners.
    pub ci: Option<[f64; 2]>,
    /// How many independent judgements would tell as much.
    pub effective_n: Option<f64>,
    /// The share of tokens that the majority calls correct, a tie counting one half.
    pub consensus_accuracy: Option<f64>,
    /// Wilson over tokens, for these listeners.
    pub consensus_ci: Option<[f64; 2]>,
    /// Tokens on which the listeners are evenly divided.
    pub ties: usize,
    /// The tied tokens by name.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tied_tokens: Vec<String>,
    /// Whether the child is a peer of the same age, heard as a yardstick.
    pub peer: bool,
    /// The way of treating in it, where it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// One child's change.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChangeFinding {
    /// The child's code.
    pub child: String,
    /// The earlier phase.
    pub from: String,
    /// The later phase.
    pub to: String,
    /// Which words count.
    pub words: Words,
    /// Sessions of the earlier phase.
    pub sessions_from: usize,
    /// Sessions of the later phase that count.
    pub sessions_to: usize,
    /// The mean accuracy of the earlier sessions.
    pub mean_from: Option<f64>,
    /// The mean accuracy of the later sessions.
    pub mean_to: Option<f64>,
    /// Later less earlier mean.
    pub difference: Option<f64>,
    /// Of the child where both sides have three sessions, else of these days.
    pub ci: Option<[f64; 2]>,
    /// Between the recordings at hand.
    pub ci_these_days: Option<[f64; 2]>,
    /// The minimal detectable change of this design.
    pub mdc95: Option<f64>,
    /// Whether it carries good and bad days.
    pub mdc95_includes_sessions: bool,
    /// Whether the difference is beyond it, either way.
    pub beyond_mdc: Option<bool>,
    /// The other measures of change.
    #[serde(flatten)]
    pub effects: Effects,
    /// `improved`, `declined`, `no_relevant_change` or `cannot_tell`.
    pub verdict: &'static str,
    /// The same in plain words.
    pub sentence: String,
    /// Where it cannot be told: what more would settle it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settling: Option<Settling>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// One way of treating.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CohortFinding {
    /// Its label.
    pub cohort: String,
    /// Children whose change is known.
    pub children: usize,
    /// The mean of their changes.
    pub mean_change: Option<f64>,
    /// By Student's t over children.
    pub ci: Option<[f64; 2]>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// Two cohorts against each other, the child being the unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CohortTestFinding {
    /// Mean change of the second cohort less that of the first, in the order of `cohorts`.
    pub difference: f64,
    /// By Welch's t over children.
    pub ci: Option<[f64; 2]>,
    /// Two-sided, by permutation of the children.
    pub p: f64,
    /// The smallest p that this design could have given.
    pub smallest_p: f64,
    /// In how many ways the children could have been assigned.
    pub arrangements: f64,
    /// Whether all were listed.
    pub exact: bool,
    /// The difference in pooled standard deviations of children, Hedges' g.
    pub hedges_g: Option<f64>,
}
