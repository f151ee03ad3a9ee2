//! All children of a study together: under each other on one time axis, and ways of treating side by side.

use super::super::chart;
use super::super::chart::Format;
use super::super::chart::Graph;
use super::super::number;
use super::super::page::children;
use super::super::page::graphs;
use super::super::page::over_rounds;
use super::super::page::words;
use super::super::table::Table;
use super::super::tables;
use super::lines;
use super::sheet;
use super::sheet::placed_band;
use crate::analysis::RoundFindings;
use crate::study::Use;

/// The study at a look.
#[derive(Debug, Clone, PartialEq)]
pub struct StudySheet {
    /// Over which rounds the figures go.
    pub rounds: String,
    /// All children on one time axis.
    pub chart: String,
    /// The same for a phone.
    pub narrow_chart: String,
    /// What its band and its signs stand for.
    pub key: String,
    /// Ways of treating, each with its children.
    pub cohorts: Vec<CohortSheet>,
    /// The cohorts as a table.
    pub table: Table,
    /// The cohorts against each other: the exact test, or why there is none.
    pub test: String,
    /// What was drawn within children, where something was.
    pub drawn: Option<String>,
    /// Ways of treating that alternate within a child.
    pub conditions: Table,
    /// The same where they are carried by sets of words.
    pub word_sets: Table,
    /// Whether a program answered for the listeners.
    pub simulated: bool,
}

/// A way of treating with its children, by code.
#[derive(Debug, Clone, PartialEq)]
pub struct CohortSheet {
    /// Its name; nothing where the study has one way only.
    pub cohort: Option<String>,
    /// Each child.
    pub children: Vec<ChildOfCohort>,
}

/// A child's change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChildOfCohort {
    /// Her code.
    pub code: String,
    /// From what to what, in percent.
    pub means: String,
    /// The points between, with their sign.
    pub points: String,
    /// Their limits.
    pub limits: String,
    /// The verdict in words.
    pub headline: &'static str,
}

/// All children of a round, or of all rounds where they stand on one scale.
pub fn study_sheet(found: &RoundFindings) -> StudySheet {
    let joined = found
        .over_rounds
        .as_ref()
        .filter(|over| !over.sessions.is_empty());
    let (graphs, band) = match joined {
        Some(over) => (over_rounds::graphs(over), placed_band(over)),
        None => (children::graphs_of(found), graphs::band(&found.outcome)),
    };
    let codes = children::codes(found, Use::Scored);
    let graphs = by_cohort(graphs, &codes);
    let drawn = |id: &str, format: Format| chart::study(id, &graphs, band.as_ref(), format);
    let (table, test) = match joined.filter(|over| !over.changes.is_empty()) {
        Some(over) => (
            tables::cohorts(&over.cohorts),
            words::test_of_cohorts(over.cohort_test.as_ref(), &over.reasons),
        ),
        None => (
            tables::cohorts(&found.outcome.cohorts),
            words::cohort_test(found),
        ),
    };
    StudySheet {
        rounds: match joined {
            Some(over) => format!(
                "All rounds up to {} on the scale of round {}.",
                found.round.round, over.reference
            ),
            None => format!("Round {}.", found.round.round),
        },
        key: lines::key(graphs.first(), band.as_ref()),
        chart: drawn("study", Format::WIDE),
        narrow_chart: drawn("study-narrow", Format::NARROW),
        cohorts: cohorts(found, &codes),
        table,
        test,
        drawn: match joined {
            Some(over) => words::test_of_the_draw(over.randomisation.as_ref(), &over.reasons),
            None => words::randomisation(found),
        },
        conditions: tables::conditions(&found.outcome),
        word_sets: tables::word_sets(&found.outcome),
        simulated: found.round.simulated,
    }
}

/// The graphs in the order of cohorts, then of codes, each with its cohort beside it.
fn by_cohort(mut graphs: Vec<Graph>, codes: &[(String, Option<String>)]) -> Vec<Graph> {
    let place = |child: &str| codes.iter().position(|(code, _)| code == child);
    for graph in &mut graphs {
        let known = codes.iter().find(|(code, _)| *code == graph.child);
        graph.beside = known.and_then(|(_, cohort)| cohort.clone());
    }
    graphs.sort_by_key(|graph| place(&graph.child).unwrap_or(usize::MAX));
    graphs
}

fn cohorts(found: &RoundFindings, codes: &[(String, Option<String>)]) -> Vec<CohortSheet> {
    let mut sheets: Vec<CohortSheet> = Vec::new();
    for (code, cohort) in codes {
        let Some(told) = sheet::told_of(found, code) else {
            continue;
        };
        let Some([before, after]) = told.means else {
            continue;
        };
        let child = ChildOfCohort {
            code: code.clone(),
            means: format!("{} to {}", number::percent(before), number::percent(after)),
            points: number::points_1(Some(after - before)),
            limits: number::points_limits_1(told.limits),
            headline: super::headline(&told),
        };
        match sheets.last_mut().filter(|sheet| sheet.cohort == *cohort) {
            Some(sheet) => sheet.children.push(child),
            None => sheets.push(CohortSheet {
                cohort: cohort.clone(),
                children: vec![child],
            }),
        }
    }
    sheets
}
