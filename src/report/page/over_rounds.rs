//! What a report says over several rounds: how the panels compare, and one joined graph where that is possible.

use super::super::chart;
use super::super::chart::Format;
use super::super::chart::Graph;
use super::super::chart::Mark;
use super::super::chart::Series;
use super::super::chart::Session;
use super::super::chart::Symbol;
use super::super::number::percent;
use super::super::number::percent_limits;
use super::super::table::Table;
use super::super::tables;
use super::super::tables::verdict_words;
use super::graphs::under_ways;
use super::graphs::ways;
use super::words;
use crate::analysis::PlacedSessionFinding;
use crate::analysis::RoundsFinding;

/// The section.
pub(super) struct OverRounds {
    /// What is said of the panels, a sentence for each pair of rounds.
    pub(super) panels: Vec<String>,
    /// Why there is no joined graph.
    pub(super) refused: Option<String>,
    pub(super) reference: String,
    pub(super) chart: String,
    /// Each child with its verdict and sentence.
    pub(super) children: Vec<(String, &'static str, String)>,
    pub(super) sessions: Table,
    pub(super) changes: Table,
    pub(super) links: Table,
    /// Who heard each round.
    pub(super) heard_by: Table,
    pub(super) cohorts: Table,
    pub(super) cohort_test: String,
    /// The test of what was drawn within children, or why there is none.
    pub(super) drawn: Option<String>,
}

impl OverRounds {
    pub(super) fn new(found: &RoundsFinding) -> Self {
        let graphs = graphs(found);
        Self {
            panels: found
                .rounds
                .iter()
                .map(|round| round.sentence.clone())
                .collect(),
            refused: found.reasons.of("sessions").map(str::to_owned),
            reference: found.reference.clone(),
            chart: if graphs.is_empty() {
                String::new()
            } else {
                chart::study("rounds", &graphs, None, Format::WIDE)
            },
            children: found
                .changes
                .iter()
                .map(|change| {
                    let verdict = verdict_words(change.verdict, change.mdc95_includes_sessions);
                    (change.child.clone(), verdict, change.sentence.clone())
                })
                .collect(),
            sessions: tables::placed_sessions(found),
            changes: tables::placed_changes(found),
            links: tables::links(found),
            heard_by: tables::panels_of_rounds(found),
            cohorts: Table {
                caption: "Cohorts over all rounds".to_owned(),
                ..tables::cohorts(&found.cohorts)
            },
            cohort_test: words::test_of_cohorts(found.cohort_test.as_ref(), &found.reasons),
            drawn: words::test_of_the_draw(found.randomisation.as_ref(), &found.reasons),
        }
    }
}

/// Each child on the one scale.
pub(in crate::report) fn graphs(found: &RoundsFinding) -> Vec<Graph> {
    let mut children: Vec<&str> = found
        .sessions
        .iter()
        .filter(|session| !session.peer)
        .map(|session| session.child.as_str())
        .collect();
    children.dedup();
    children
        .into_iter()
        .map(|child| {
            let own = || {
                found
                    .sessions
                    .iter()
                    .filter(move |session| session.child == child)
            };
            Graph {
                child: child.to_owned(),
                beside: None,
                sessions: own()
                    .map(|session| Session {
                        number: session.session,
                        phase: session.phase.clone(),
                        day: session.day,
                    })
                    .collect(),
                series: series(own),
                levels: Vec::new(),
            }
        })
        .collect()
}

/// All of a child's sessions; apart where they are under two ways of treating.
fn series<'s, I: Iterator<Item = &'s PlacedSessionFinding>>(own: impl Fn() -> I) -> Vec<Series> {
    let all = Series {
        label: "one scale".to_owned(),
        symbol: Symbol::Disc,
        marks: own().map(|session| Some(mark(session))).collect(),
        of_others: Vec::new(),
    };
    let ways = ways(own().map(|session| session.condition.as_deref()));
    if ways.is_empty() {
        vec![all]
    } else {
        under_ways(&all, &ways)
    }
}

fn mark(session: &PlacedSessionFinding) -> Mark {
    Mark {
        share: session.proportion_correct,
        ci: Some(session.ci),
        said: format!(
            "Session {}, {}, round {}: {} on the one scale, interval {}; {} as its own panel heard it",
            session.session,
            session.phase,
            session.round,
            percent(session.proportion_correct),
            percent_limits(Some(session.ci)),
            percent(session.as_heard),
        ),
    }
}
