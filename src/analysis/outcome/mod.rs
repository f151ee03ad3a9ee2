//! Outcome: from judgements to each child's sessions, changes and verdicts, with intervals, words and reasons.

mod changes;
mod cohorts;
mod compared;
mod conditions;
mod finding;
mod joined;
mod lists;
mod masked;
mod randomised;
mod resample;
mod round_panels;
mod rounds;
mod rounds_finding;
mod sentence;
mod sessions;
mod settle;
mod word_sets;

pub(super) use cohorts::welch;
pub use conditions::ConditionsFinding;
pub use finding::ChangeFinding;
pub use finding::CohortFinding;
pub use finding::CohortTestFinding;
pub use finding::LooksFinding;
pub use finding::Outcome;
pub use finding::PanelFinding;
pub use finding::Panels;
pub use finding::SessionFinding;
pub use finding::Words;
pub(in crate::analysis) use joined::Joined;
pub use lists::ListOfSession;
pub use lists::UnequalLists;
pub use masked::MaskedFinding;
pub use masked::MaskedGraphFinding;
pub(in crate::analysis) use masked::masked;
pub use masked::masked_points;
pub(super) use resample::Scores;
pub(super) use resample::resampled_nap;
pub use round_panels::RoundPanelFinding;
pub use rounds::over_rounds;
pub use rounds_finding::LinkedRound;
pub use rounds_finding::PlacedChangeFinding;
pub use rounds_finding::PlacedSessionFinding;
pub use rounds_finding::RoundsFinding;
pub use settle::MOST_LISTENERS;
pub use settle::MOST_SESSIONS;
pub use settle::MOST_WORDS;
pub use settle::Settling;
pub use word_sets::WordSetsFinding;

use joined::View;

use super::Reasons;
use crate::stats::Undefined;
use crate::study::Assignment;
use crate::study::Invalid;
use crate::study::Panel;
use crate::study::Ratings;
use crate::study::TokenTable;
use crate::study::plan::WordSet;
use crate::study::record::Look;

/// How an outcome is to be computed; [`OutcomeOptions::default`] is what the command does.
#[derive(Debug, Clone, PartialEq)]
pub struct OutcomeOptions {
    /// The earlier phase of the contrast (`baseline`).
    pub baseline: String,
    /// The later phase of the contrast (`treatment`).
    pub treatment: String,
    /// Of the later phase only its last so many sessions (all).
    pub last: Option<usize>,
    /// The smallest change that matters, as a share of 1 (0.15, ours).
    pub smallest_change: f64,
    /// The level of every interval, strictly between 0 and 1 (0.95).
    pub confidence: f64,
    /// What was drawn; nothing is tested without it (none).
    pub assignment: Option<Assignment>,
    /// The words that comparisons of cohorts and tests rest on (all).
    pub words: WordSet,
    /// Which look at the study's results this is (unknown).
    pub look: Option<Look>,
    /// Resamples for intervals that are there for comparison (1000; 0 for none).
    pub bootstrap: u32,
    /// The seed of all that is drawn (1).
    pub seed: u64,
}

impl Default for OutcomeOptions {
    fn default() -> Self {
        Self {
            baseline: "baseline".to_owned(),
            treatment: "treatment".to_owned(),
            last: None,
            smallest_change: 0.15,
            confidence: 0.95,
            assignment: None,
            words: WordSet::All,
            look: None,
            bootstrap: 1000,
            seed: 1,
        }
    }
}

/// Computes sessions, changes, verdicts and cohorts of the main judgements.
///
/// `ratings`: every value `correct` or `distorted` (or `1`, `0`); only main judgements of scored and peer tokens count.
/// `panel`: who was kept and with which weight; with it the finding is that of the kept, and `panels` holds all three.
///
/// # Errors
/// [`Invalid`] where a value is no judgement, a judged token is unknown, a session has two phases or a child two
/// cohorts, a listener stands in no row of the panel, or the assignment was not possible.
pub fn outcome(
    ratings: &Ratings,
    tokens: &TokenTable,
    panel: Option<&Panel>,
    options: &OutcomeOptions,
) -> Result<Outcome, Invalid> {
    let joined = Joined::new(ratings, tokens)?;
    let mut reasons = Reasons::new();
    let everyone = vec![1.0; ratings.raters.len()];
    let Some(panel) = panel else {
        let found = one_panel(&joined, &everyone, options);
        return whole(&joined, &everyone, found, None, options, reasons);
    };
    let weights = joined.panel_weights(panel)?;
    let kept = one_panel(&joined, &weights.kept, options);
    let weighted = weights
        .weighted
        .as_ref()
        .map(|weights| one_panel(&joined, weights, options));
    if weighted.is_none() {
        reasons.say(
            "panels.weighted",
            "no listener of the panel has a weight above 0",
        );
    }
    let panels = Panels {
        all: one_panel(&joined, &everyone, options),
        kept: kept.clone(),
        weighted,
    };
    whole(&joined, &weights.kept, kept, Some(panels), options, reasons)
}

fn whole(
    joined: &Joined<'_>,
    weights: &[f64],
    found: PanelFinding,
    panels: Option<Panels>,
    options: &OutcomeOptions,
    mut reasons: Reasons,
) -> Result<Outcome, Invalid> {
    if found.sessions.iter().all(|session| session.judgements == 0) {
        reasons.say("sessions", Undefined::NoJudgements);
    }
    joined.check_phases(options, &mut reasons);
    if found.changes.is_empty() && reasons.of("changes").is_none() {
        reasons.say(
            "changes",
            format!(
                "no child has judged sessions both in `{}` and in `{}`",
                options.baseline, options.treatment
            ),
        );
    }
    let judged = found
        .changes
        .iter()
        .filter(|c| c.words == Words::All && c.ci.is_some())
        .count();
    let cohorts = cohorts::cohorts(joined, &found.changes, options, &mut reasons)?;
    // Each side of the interval errs in (1 − level)/2; the simulated rate is lower.
    let by_chance = (1.0 - options.confidence) / 2.0 * judged as f64;
    let randomisation = match &options.assignment {
        None | Some(Assignment::Cohorts { .. }) => None,
        Some(assignment) => {
            let view = View::new(joined, options.words.into(), weights);
            let scored = randomised::Scored::in_round(&view, options);
            randomised::randomised(&scored, assignment, &mut reasons)
        }
    };
    let order = match &options.assignment {
        Some(Assignment::Alternating { conditions, .. }) => conditions.as_slice(),
        _ => &[],
    };
    let conditions = if joined.tokens.conditions.names().len() < 2 {
        Vec::new()
    } else {
        let view = View::new(joined, options.words.into(), weights);
        conditions::conditions(&view, options, order)
    };
    let word_sets = match &options.assignment {
        Some(Assignment::WordSets {
            conditions,
            sets,
            cases,
        }) => match conditions.as_slice() {
            [first, second] => {
                let drawn = word_sets::SetsDrawn {
                    conditions: [first, second],
                    sets,
                    cases,
                };
                word_sets::word_sets(joined, weights, options, &drawn)
            }
            _ => Vec::new(),
        },
        _ => Vec::new(),
    };
    let unequal_lists = lists::unequal(joined, weights, options, &found.changes);
    Ok(Outcome {
        sessions: found.sessions,
        changes: found.changes,
        conditions,
        word_sets,
        unequal_lists,
        false_improved_expected: by_chance,
        looks: options.look.map(|look| LooksFinding::new(look, by_chance)),
        cohorts: cohorts.cohorts,
        cohort_test: cohorts.test,
        randomisation,
        panels,
        reasons,
    })
}

/// The changes alone, every judgement alike.
///
/// # Errors
/// As for [`outcome`].
pub(in crate::analysis) fn changes_alone(
    ratings: &Ratings,
    tokens: &TokenTable,
    options: &OutcomeOptions,
) -> Result<Vec<ChangeFinding>, Invalid> {
    let joined = Joined::new(ratings, tokens)?;
    let everyone = vec![1.0; ratings.raters.len()];
    let sets = joined.word_sets().into_iter();
    Ok(sets
        .flat_map(|words| changes::changes(&View::new(&joined, words, &everyone), options))
        .collect())
}

/// Sessions and changes as one panel heard them: all words, and treated and untreated ones apart where both are marked.
fn one_panel(joined: &Joined<'_>, weights: &[f64], options: &OutcomeOptions) -> PanelFinding {
    let mut found = PanelFinding {
        sessions: Vec::new(),
        changes: Vec::new(),
    };
    for words in joined.word_sets() {
        let view = View::new(joined, words, weights);
        found.sessions.extend(sessions::sessions(&view, options));
        found.changes.extend(changes::changes(&view, options));
    }
    found
}
