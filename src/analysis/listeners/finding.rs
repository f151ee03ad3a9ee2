//! What is found about listeners, in the fields and the order of the command line's contract.

use serde::Serialize;

use super::super::Reasons;
use crate::stats::listener::Rule;

/// Every listener, and the rules that decided who is kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Listeners {
    /// Each listener.
    pub listeners: Vec<ListenerFinding>,
    /// Each rule with what it does.
    pub rules: Vec<RuleFinding>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// One listener.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ListenerFinding {
    /// Her code.
    pub rater: String,
    /// Main judgements.
    pub judgements: u32,
    /// The share of them that is positive.
    pub positive_rate: Option<f64>,
    /// Tokens whose answer is known.
    pub check: CheckFinding,
    /// Tokens that she heard again.
    pub repeat: RepeatFinding,
    /// All others.
    pub rest_of_panel: RestFinding,
    /// Over the places of her order.
    pub drift: DriftFinding,
    /// The middle response time in milliseconds.
    pub median_rt_ms: Option<f64>,
    /// The longest run of equal answers.
    pub longest_run: u32,
    /// Whether the rules keep her.
    pub kept: bool,
    /// Why not, a sentence for each rule that she fails.
    pub why: Vec<String>,
    /// The place of the first rule that she fails.
    #[serde(skip)]
    pub first_failed: Option<usize>,
    /// Rules that could not be applied to her, and why.
    pub not_applied: Vec<String>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// Signal detection on check tokens; 'correct' is the signal.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct CheckFinding {
    /// Check tokens that are correct.
    pub n_correct_items: u32,
    /// Check tokens that are distorted.
    pub n_distorted_items: u32,
    /// Correct ones called correct.
    pub hits: u32,
    /// Distorted ones called correct.
    pub false_alarms: u32,
    /// The share judged as known.
    pub accuracy: Option<f64>,
    /// Sensitivity.
    pub d_prime: Option<f64>,
    /// Criterion; below 0 she leans to 'correct'.
    pub criterion: Option<f64>,
}

/// A listener against herself.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct RepeatFinding {
    /// Tokens heard again.
    pub pairs: u32,
    /// The share judged alike.
    pub agreement: Option<f64>,
    /// Its Wilson interval.
    pub ci: Option<[f64; 2]>,
    /// Cohen's kappa.
    pub kappa: Option<f64>,
}

/// A listener against all others.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct RestFinding {
    /// The mean share of others who say the same.
    pub agreement: Option<f64>,
    /// With the others' share of 'positive'.
    pub correlation: Option<f64>,
}

/// A listener over time.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct DriftFinding {
    /// The change of the log odds of 'positive' over 100 places.
    pub slope_per_100: Option<f64>,
    /// Against none, two-sided.
    pub p: Option<f64>,
}

/// One rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RuleFinding {
    /// In words.
    pub rule: String,
    /// As data.
    pub settings: Rule,
    /// Check tokens or repeats on which the chances rest: those of most listeners.
    pub trials: Option<u32>,
    /// The probability that somebody who guesses passes.
    pub guesser_passes: Option<f64>,
    /// The probability that a careful listener fails.
    pub careful_listener_fails: Option<f64>,
    /// What 'careful' means here.
    pub careful_accuracy: f64,
    /// Listeners who fail it.
    pub fail: usize,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}
