//! Series: change in any single-case outcome, and the randomisation test of the assignment that was drawn.

use std::collections::BTreeMap;

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rayon::prelude::*;
use serde::Serialize;

use super::Reasons;
use super::alternating;
use super::effects::Effects;
use super::effects::Phases;
use super::effects::effects;
use super::outcome::Scores;
use super::outcome::resampled_nap;
use super::outcome::welch;
use crate::stats::change::Alternation;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;
use crate::stats::change::Order;
use crate::stats::change::PhaseChanges;
use crate::stats::change::RandomisationTest;
use crate::stats::change::StartPoints;
use crate::stats::change::alternation_test;
use crate::stats::change::phase_change_test;
use crate::stats::change::start_point_test;
use crate::study::Assignment;
use crate::study::Drawn;
use crate::study::Invalid;
use crate::study::Series;
use crate::study::SeriesRow;

/// How change in a series is to be computed; [`SeriesOptions::default`] is what the command does.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesOptions {
    /// The earlier phase (`baseline`).
    pub baseline: String,
    /// The later phase (`treatment`).
    pub treatment: String,
    /// Which direction is hoped for (higher).
    pub better: Better,
    /// Items behind each value, where it is a share (unknown).
    pub items: Option<f64>,
    /// The assignment that was drawn; nothing is tested without it (none).
    pub assignment: Option<Assignment>,
    /// The level of every interval (0.95).
    pub confidence: f64,
    /// Resamples for the intervals that are there for comparison (1000).
    pub bootstrap: u32,
    /// The seed of all that is drawn (1).
    pub seed: u64,
}

impl Default for SeriesOptions {
    fn default() -> Self {
        Self {
            baseline: "baseline".to_owned(),
            treatment: "treatment".to_owned(),
            better: Better::Higher,
            items: None,
            assignment: None,
            confidence: 0.95,
            bootstrap: 1000,
            seed: 1,
        }
    }
}

/// Change in each case, and the test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeriesFinding {
    /// Each case's change.
    pub changes: Vec<SeriesChange>,
    /// The test, where the assignment is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub randomisation: Option<RandomisationFinding>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// One case's change, in the unit of the values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeriesChange {
    /// The case.
    pub child: String,
    /// The earlier phase.
    pub from: String,
    /// The later phase.
    pub to: String,
    /// Sessions of the earlier phase.
    pub sessions_from: usize,
    /// Sessions of the later phase.
    pub sessions_to: usize,
    /// The mean of the earlier phase.
    pub mean_from: f64,
    /// The mean of the later phase.
    pub mean_to: f64,
    /// Later less earlier mean.
    pub difference: f64,
    /// By Welch's t over sessions, as independent.
    pub ci: Option<[f64; 2]>,
    /// Nothing: what stands behind a value is not known.
    pub ci_these_days: Option<[f64; 2]>,
    /// The other measures of change.
    #[serde(flatten)]
    pub effects: Effects,
    /// The same in plain words.
    pub sentence: String,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// The randomisation test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RandomisationFinding {
    /// What the statistic is.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub statistic: String,
    /// The statistic of the assignment that was drawn; above 0 is for the better.
    pub observed: f64,
    /// One-sided, for the better.
    pub p: f64,
    /// The smallest p that this design could have given.
    pub smallest_p: f64,
    /// How many assignments were possible.
    pub assignments: f64,
    /// Whether all were listed.
    pub exact: bool,
    /// For a change either way.
    pub p_two_sided: f64,
    /// The smallest of these that this design could have given.
    pub smallest_p_two_sided: f64,
}

impl From<RandomisationTest> for RandomisationFinding {
    fn from(test: RandomisationTest) -> Self {
        Self {
            statistic: String::new(),
            observed: test.observed,
            p: test.p,
            smallest_p: test.smallest_p,
            assignments: test.assignments,
            exact: test.exact,
            p_two_sided: test.p_two_sided,
            smallest_p_two_sided: test.smallest_p_two_sided,
        }
    }
}

/// Computes the change of each case that has values in both phases, and the test of the assignment that was drawn.
///
/// # Errors
/// [`Invalid`] where the assignment names a case that is not there or was not possible.
pub fn series(series: &Series, options: &SeriesOptions) -> Result<SeriesFinding, Invalid> {
    let mut reasons = Reasons::new();
    let mut by_case: BTreeMap<u32, Vec<SeriesRow>> = BTreeMap::new();
    for row in &series.rows {
        by_case.entry(row.case).or_default().push(*row);
    }
    for rows in by_case.values_mut() {
        rows.sort_by_key(|row| row.session);
    }
    let phases = (
        series.phases.find(&options.baseline),
        series.phases.find(&options.treatment),
    );
    let changes = if let (Some(from), Some(to)) = phases {
        by_case
            .par_iter()
            .filter_map(|(case, rows)| change(series, *case, rows, (from, to), options))
            .collect()
    } else {
        reasons.say("changes", phase_missing(series, options));
        Vec::new()
    };
    let randomisation = if let Some(assignment) = &options.assignment {
        Some(randomisation(series, &by_case, assignment, options)?.into())
    } else {
        reasons.say(
            "randomisation",
            "without the assignment that was drawn nothing is tested",
        );
        None
    };
    Ok(SeriesFinding {
        changes,
        randomisation,
        reasons,
    })
}

/// Why there is no change: no values at all, or which phase of the contrast is not there.
fn phase_missing(series: &Series, options: &SeriesOptions) -> String {
    if series.rows.is_empty() {
        return "there are no values".to_owned();
    }
    let missing: Vec<&str> = [options.baseline.as_str(), options.treatment.as_str()]
        .into_iter()
        .filter(|phase| series.phases.find(phase).is_none())
        .collect();
    format!(
        "no session has the phase `{}` (there are: `{}`)",
        missing.join("` or `"),
        series.phases.names().join("`, `")
    )
}

fn change(
    series: &Series,
    case: u32,
    rows: &[SeriesRow],
    (from, to): (u32, u32),
    options: &SeriesOptions,
) -> Option<SeriesChange> {
    let of = |phase: u32| -> Vec<f64> {
        rows.iter()
            .filter(|row| row.phase == phase)
            .map(|row| row.value)
            .collect()
    };
    let (earlier, later) = (of(from), of(to));
    if earlier.is_empty() || later.is_empty() {
        return None;
    }
    let mut reasons = Reasons::new();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (mean_from, mean_to) = (mean(&earlier), mean(&later));
    let ci = welch(&earlier, &later, options.confidence);
    if ci.is_none() {
        reasons.say(
            "ci",
            "a phase has one session only, or no session differs from another",
        );
    }
    reasons.say("ci_these_days", "what stands behind a value is not known");
    let mut rng = ChaCha12Rng::seed_from_u64(options.seed);
    rng.set_stream(u64::from(case));
    let exact = |values| Scores {
        values,
        errors: &[],
    };
    let effects = effects(
        &Phases {
            from: &earlier,
            to: &later,
            better: options.better,
            items: options.items,
            confidence: options.confidence,
            nap_resampled: resampled_nap(
                &exact(&earlier),
                &exact(&later),
                options.better,
                options.bootstrap,
                options.confidence,
                &mut rng,
            ),
        },
        &mut reasons,
    );
    Some(SeriesChange {
        child: series.cases.name(case).to_owned(),
        from: options.baseline.clone(),
        to: options.treatment.clone(),
        sessions_from: earlier.len(),
        sessions_to: later.len(),
        mean_from,
        mean_to,
        difference: mean_to - mean_from,
        ci,
        ci_these_days: None,
        sentence: sentence(mean_from, mean_to, ci, &effects),
        effects,
        reasons,
    })
}

fn sentence(from: f64, to: f64, ci: Option<[f64; 2]>, effects: &Effects) -> String {
    let way = if to > from { "a rise" } else { "a fall" };
    let limits = ci.map_or_else(
        || "too few sessions for limits".to_owned(),
        |[low, high]| format!("the change lies between {low:.2} and {high:.2}"),
    );
    let nap = effects.nap.estimate.map_or_else(String::new, |nap| {
        format!(
            " Of all pairs of an earlier and a later session {:.0}% are better later.",
            nap * 100.0
        )
    });
    format!(
        "From a mean of {from:.2} to {to:.2}: {way} of {:.2} ({limits}).{nap}",
        (to - from).abs()
    )
}

type Cases = BTreeMap<u32, Vec<SeriesRow>>;

fn randomisation(
    series: &Series,
    by_case: &Cases,
    assignment: &Assignment,
    options: &SeriesOptions,
) -> Result<RandomisationTest, Invalid> {
    let mut rng = ChaCha12Rng::seed_from_u64(options.seed);
    rng.set_stream(u64::MAX);
    let scores = |name: &str| -> Result<Vec<f64>, Invalid> {
        let rows = series.cases.find(name).and_then(|case| by_case.get(&case));
        rows.map(|rows| rows.iter().map(|row| row.value).collect())
            .ok_or_else(|| {
                Invalid::new(
                    format!("the assignment names the case `{name}`, which is not there"),
                    "name the cases as the series does",
                )
            })
    };
    match assignment {
        Assignment::StartPoints { drawn, cases } => {
            let cases = cases
                .iter()
                .map(|(name, case)| {
                    let scores = scores(name)?;
                    Ok(StartPoints {
                        sessions: (1..=scores.len()).collect(),
                        scores,
                        allowed: case.allowed.clone(),
                        start: case.start,
                    })
                })
                .collect::<Result<Vec<_>, Invalid>>()?;
            let order = match drawn {
                Drawn::Starts => Order::Starts,
                Drawn::Cases => Order::Cases,
                Drawn::Both => Order::Both,
            };
            start_point_test(&cases, order, options.better, &mut rng).map_err(impossible)
        }
        Assignment::PhaseChanges {
            min_per_phase,
            cases,
        } => {
            let (name, changes) = only(cases.iter())?;
            let case = PhaseChanges {
                scores: scores(name)?,
                changes: changes.clone(),
                min_per_phase: *min_per_phase,
            };
            phase_change_test(&case, options.better, &mut rng).map_err(impossible)
        }
        Assignment::Alternating { .. } => {
            let cases = alternations(series, by_case, assignment)?;
            alternation_test(&cases, options.better, &mut rng).map_err(impossible)
        }
        Assignment::WordSets { .. } => Err(Invalid::new(
            "a series says nothing of sets of words",
            "give the judgements and the assignment to `outcome`",
        )),
        Assignment::Cohorts { .. } => Err(Invalid::new(
            "an assignment of children to cohorts says nothing of a series",
            "give the start points, phase changes or order of conditions that were drawn",
        )),
    }
}

/// Each case's sessions with their conditions, held against the order that was drawn.
fn alternations(
    series: &Series,
    by_case: &Cases,
    assignment: &Assignment,
) -> Result<Vec<Alternation>, Invalid> {
    let rows = by_case.iter().map(|(case, rows)| {
        let under = rows
            .iter()
            .filter_map(|row| Some((row.value, row.condition?)));
        (
            series.cases.name(*case),
            under
                .map(|(value, condition)| (value, series.conditions.name(condition)))
                .collect(),
        )
    });
    alternating::cases(assignment, rows.collect(), series.conditions.names())
}

fn only<T>(mut cases: impl Iterator<Item = T>) -> Result<T, Invalid> {
    match (cases.next(), cases.next()) {
        (Some(case), None) => Ok(case),
        _ => Err(Invalid::new(
            "this design is tested one case at a time",
            "give one case",
        )),
    }
}

fn impossible(refusal: ChangeError) -> Invalid {
    Invalid::new(
        refusal.to_string(),
        "check the assignment against what was possible",
    )
}
