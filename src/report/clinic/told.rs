//! What is to be told of one change, whichever scale it was measured on.

use crate::analysis::ChangeFinding;
use crate::analysis::PlacedChangeFinding;
use crate::analysis::Settling;

/// A change with its limits. Shares of 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// `improved`, `declined`, `no_relevant_change` or `cannot_tell`.
    pub verdict: &'static str,
    /// The means before and after, where there are any.
    pub means: Option<[f64; 2]>,
    /// The limits of their difference.
    pub limits: Option<[f64; 2]>,
    /// The minimal detectable change of this design.
    pub mdc95: Option<f64>,
    /// Whether good and bad days are in the limits; else they are of these recordings alone.
    pub of_the_child: bool,
    /// Sessions before and after.
    pub sessions: [usize; 2],
    /// The smallest change that matters, as it was sealed.
    pub smallest_change: f64,
    /// The level of the limits.
    pub confidence: f64,
    /// What more would settle it, where that was forecast.
    pub settling: Option<Settling>,
    /// The standard error that joining several rounds brings.
    pub linking_error: Option<f64>,
    /// Why there are no limits.
    pub why_no_limits: Option<String>,
}

impl Told {
    /// A change within one round.
    pub fn of(change: &ChangeFinding, smallest_change: f64, confidence: f64) -> Self {
        Self {
            verdict: change.verdict,
            means: change.mean_from.zip(change.mean_to).map(<[f64; 2]>::from),
            limits: change.ci,
            mdc95: change.mdc95,
            of_the_child: change.mdc95_includes_sessions,
            sessions: [change.sessions_from, change.sessions_to],
            smallest_change,
            confidence,
            settling: change.settling,
            linking_error: None,
            why_no_limits: change.reasons.of("ci").map(str::to_owned),
        }
    }

    /// A change over several rounds on one scale.
    pub fn placed(change: &PlacedChangeFinding, smallest_change: f64, confidence: f64) -> Self {
        Self {
            verdict: change.verdict,
            means: Some([change.mean_from, change.mean_to]),
            limits: Some(change.ci),
            mdc95: Some(change.mdc95),
            of_the_child: change.mdc95_includes_sessions,
            sessions: [change.sessions_from, change.sessions_to],
            smallest_change,
            confidence,
            settling: change.settling,
            linking_error: Some(change.linking_error),
            why_no_limits: None,
        }
    }
}
