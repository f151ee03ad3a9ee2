//! What is found over several rounds, in the order in which it is written.

use serde::Serialize;

use super::CohortFinding;
use super::CohortTestFinding;
use super::RoundPanelFinding;
use super::Settling;
use super::Words;
use crate::analysis::RandomisationFinding;
use crate::analysis::Reasons;
use crate::stats::interval::Leniency;
use crate::stats::interval::Linking;

/// Several rounds on the scale of the first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundsFinding {
    /// The round whose panel the scale is.
    pub reference: String,
    /// The panel of each round, oldest first.
    pub panels: Vec<RoundPanelFinding>,
    /// Each later round beside each earlier one with which it shares words.
    pub rounds: Vec<LinkedRound>,
    /// Every session on the one scale; empty where a round cannot be placed.
    pub sessions: Vec<PlacedSessionFinding>,
    /// Each child's change over the contrast of the last round.
    pub changes: Vec<PlacedChangeFinding>,
    /// The cohorts side by side, by these changes.
    pub cohorts: Vec<CohortFinding>,
    /// The cohorts against each other, where the children were assigned by a sealed draw.
    pub cohort_test: Option<CohortTestFinding>,
    /// The test of what was drawn within children, on these sessions.
    pub randomisation: Option<RandomisationFinding>,
    /// Why a field is empty.
    pub reasons: Reasons,
}

/// How one round's panel hears beside another's.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkedRound {
    /// The later round.
    pub round: String,
    /// The earlier one.
    pub beside: String,
    /// Words that both heard.
    pub links: usize,
    /// Mean share of `correct` by the later panel less that by the earlier one.
    pub difference: f64,
    /// Its interval, over words like these.
    pub ci: Option<[f64; 2]>,
    /// The same in log odds of one word: above 0 is more lenient.
    pub log_odds: Option<f64>,
    /// The standard error of it.
    pub log_odds_se: Option<f64>,
    /// How many links of the later round with all earlier ones together would do.
    pub links_needed: usize,
    /// Whether the later round has as many.
    pub enough: bool,
    /// The same in plain words.
    pub sentence: String,
}

/// A session on the scale of the first panel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlacedSessionFinding {
    /// The child's code.
    pub child: String,
    /// The recording occasion.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// Days since the first recording, where the dates are known.
    pub day: Option<u32>,
    /// The round in which it was heard.
    pub round: String,
    /// Whether the child is a peer.
    pub peer: bool,
    /// The way of treating in it, where it has one.
    pub condition: Option<String>,
    /// Words that were judged.
    pub tokens: usize,
    /// The share judged correct by its own panel.
    pub as_heard: f64,
    /// Its interval there.
    pub as_heard_ci: [f64; 2],
    /// The share that the first panel would have judged correct.
    pub proportion_correct: f64,
    /// With the linking error in it.
    pub ci: [f64; 2],
}

/// A child's change over all rounds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlacedChangeFinding {
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
    /// The mean of the earlier sessions on the one scale.
    pub mean_from: f64,
    /// The mean of the later sessions.
    pub mean_to: f64,
    /// Later less earlier mean.
    pub difference: f64,
    /// With the linking error in it.
    pub ci: [f64; 2],
    /// The minimal detectable change of this design, linking included.
    pub mdc95: f64,
    /// Whether it carries good and bad days.
    pub mdc95_includes_sessions: bool,
    /// The standard error that linking alone brings.
    pub linking_error: f64,
    /// `improved`, `declined`, `no_relevant_change` or `cannot_tell`.
    pub verdict: &'static str,
    /// The same in plain words.
    pub sentence: String,
    /// What would settle it, where it cannot be told: the error of linking as it stands.
    pub settling: Option<Settling>,
}

impl LinkedRound {
    pub(super) fn new(round: &str, beside: &str, leniency: &Leniency, linking: &Linking) -> Self {
        Self {
            round: round.to_owned(),
            beside: beside.to_owned(),
            links: leniency.links,
            difference: leniency.difference,
            ci: leniency.ci,
            log_odds: leniency.shift,
            log_odds_se: leniency.se,
            links_needed: linking.links_needed,
            enough: linking.enough,
            sentence: sentence(round, beside, leniency),
        }
    }
}

fn sentence(round: &str, beside: &str, leniency: &Leniency) -> String {
    let points = |share: f64| format!("{:.0}", (share.abs() * 100.0).round());
    let heard = format!(
        "{} words were heard in round {beside} and again in round {round}",
        leniency.links
    );
    let Some([low, high]) = leniency.ci else {
        return format!("{heard}: one word tells nothing of a panel.");
    };
    let size = points(leniency.difference);
    let way = if leniency.difference > 0.0 {
        "more"
    } else {
        "less"
    };
    let end = |share: f64| {
        let way = if share > 0.0 { "more" } else { "less" };
        format!("{} {way}", points(share))
    };
    let scale = if low > 0.0 || high < 0.0 {
        "the panels do not share one scale, and the sessions are placed"
    } else if low > -CLOSE && high < CLOSE {
        "the panels hear alike within 5 points"
    } else {
        "whether the panels share one scale cannot be told from these words, and the sessions are placed with that error"
    };
    format!(
        "{heard}; the later panel called them correct {size} points {way} often (between {} and {}): {scale}.",
        end(low),
        end(high)
    )
}

/// Panels that differ by less are said to hear alike (ours).
const CLOSE: f64 = 0.05;
