//! Each child's part of a report: graph, sentence, figures.

use super::super::chart;
use super::super::chart::Band;
use super::super::chart::Format;
use super::super::chart::Graph;
use super::super::table::Table;
use super::super::tables;
use super::graphs;
use super::graphs::Days;
use crate::analysis::ChangeFinding;
use crate::analysis::Met;
use crate::analysis::RoundFindings;
use crate::analysis::Warning;
use crate::analysis::Words;
use crate::analysis::least_met;
use crate::study::Use;

/// One child.
pub(super) struct Child {
    /// Her code.
    pub(super) code: String,
    /// Her place in the report, for ids.
    pub(super) number: usize,
    pub(super) cohort: Option<String>,
    /// What is said of her change, that of the sealed words first.
    pub(super) statements: Vec<Statement>,
    pub(super) chart: String,
    pub(super) sessions: Table,
    pub(super) changes: Table,
    pub(super) cautions: Vec<Caution>,
    /// What her design can carry.
    pub(super) design: Option<String>,
}

/// What is said of a change.
pub(super) struct Statement {
    /// Which words; nothing where there is no need to say.
    pub(super) words: Option<&'static str>,
    pub(super) verdict: &'static str,
    /// A sign beside the verdict, never alone.
    pub(super) sign: &'static str,
    pub(super) sentence: String,
}

/// The children who are treated, in the order of the findings.
pub(super) fn children(found: &RoundFindings) -> Vec<Child> {
    let band = graphs::band(&found.outcome);
    let graphs = graphs_of(found);
    graphs
        .iter()
        .enumerate()
        .map(|(place, graph)| child(found, place + 1, graph, band.as_ref()))
        .collect()
}

/// The graphs of the treated children, by cohort.
pub(in crate::report) fn graphs_of(found: &RoundFindings) -> Vec<Graph> {
    let days = Days::of(&found.tokens);
    codes(found, Use::Scored)
        .iter()
        .map(|(code, cohort)| graphs::graph(&found.outcome, code, cohort.clone(), &days))
        .collect()
}

/// Codes with their cohorts, sorted by cohort in the study's order, then by code.
pub(in crate::report) fn codes(found: &RoundFindings, use_: Use) -> Vec<(String, Option<String>)> {
    let tokens = &found.tokens;
    let place = |cohort: &str| {
        let mut known = found.study.cohorts.iter();
        known.position(|of| of.as_str() == cohort)
    };
    let mut known: Vec<(Option<usize>, &str, Option<&str>)> = tokens
        .rows
        .iter()
        .filter(|row| row.use_ == use_)
        .map(|row| {
            let cohort = row.cohort.map(|cohort| tokens.cohorts.name(cohort));
            (
                cohort.and_then(place),
                tokens.children.name(row.child),
                cohort,
            )
        })
        .collect();
    known.sort_unstable();
    known.dedup_by(|a, b| a.1 == b.1);
    known
        .into_iter()
        .map(|(_, code, cohort)| (code.to_owned(), cohort.map(str::to_owned)))
        .collect()
}

fn child(found: &RoundFindings, number: usize, graph: &Graph, band: Option<&Band>) -> Child {
    let outcome = &found.outcome;
    let code = graph.child.clone();
    let sessions = outcome.sessions.iter().filter(|s| s.child == code);
    let changes = outcome.changes.iter().filter(|c| c.child == code);
    let apart = graph.series.len() > 1;
    let mut sessions = tables::sessions(sessions)
        .without("Child")
        .without("Effective n");
    let mut changes_table = tables::changes(changes)
        .without("Child")
        .without("It carries");
    sessions.caption = format!("Sessions of {code}");
    changes_table.caption = format!("Change of {code}");
    if !apart {
        sessions = sessions.without("Words");
        changes_table = changes_table.without("Words");
    }
    Child {
        number,
        cohort: graph.beside.clone(),
        statements: statements(found, &code),
        chart: chart::child(&format!("child-{number}"), graph, band, Format::WIDE),
        sessions,
        changes: changes_table,
        cautions: cautions(found, &code),
        design: design(found, &code),
        code,
    }
}

/// What all rounds on one scale say of a child whom this round alone does not compare.
fn over_the_rounds(found: &RoundFindings, code: &str) -> Vec<Statement> {
    let over = found.over_rounds.iter().flat_map(|over| &over.changes);
    over.filter(|change| change.child == code)
        .map(|change| Statement {
            words: Some("Over all rounds, on one scale"),
            verdict: tables::verdict_words(change.verdict, change.mdc95_includes_sessions),
            sign: sign(change.verdict),
            sentence: change.sentence.clone(),
        })
        .collect()
}

fn statements(found: &RoundFindings, code: &str) -> Vec<Statement> {
    let own = found.outcome.changes.iter().filter(|c| c.child == code);
    let mut changes: Vec<&ChangeFinding> = own.collect();
    if changes.is_empty() {
        return over_the_rounds(found, code);
    }
    let first: Words = found.plan.contrast.words.into();
    changes.sort_by_key(|change| change.words != first);
    let several = changes.len() > 1;
    changes
        .into_iter()
        .map(|change| Statement {
            words: several.then_some(match change.words {
                Words::All => "All words",
                Words::Treated => "Treated words",
                Words::Untreated => "Untreated words",
            }),
            verdict: tables::verdict(change),
            sign: sign(change.verdict),
            sentence: change.sentence.clone(),
        })
        .collect()
}

/// The sign beside a verdict.
pub(in crate::report) fn sign(verdict: &str) -> &'static str {
    match verdict {
        "improved" => "▲",
        "declined" => "▼",
        "no_relevant_change" => "=",
        _ => "?",
    }
}

/// What to keep in mind of this child's figures.
fn cautions(found: &RoundFindings, code: &str) -> Vec<Caution> {
    let compared = found.outcome.changes.iter().any(|c| c.child == code)
        || !over_the_rounds(found, code).is_empty();
    let nothing = (!compared).then(|| Caution {
        found: format!("{code} has no judged session on one side of the comparison."),
        means: "",
        advice: "",
    });
    let own = found
        .warnings
        .iter()
        .filter(|warning| warning.child.as_deref() == Some(code));
    nothing.into_iter().chain(own.map(Caution::from)).collect()
}

/// What the design of a child can carry, in a sentence.
fn design(found: &RoundFindings, code: &str) -> Option<String> {
    let own = || {
        let checks = found.design.iter();
        checks.filter(|check| check.child.as_deref() == Some(code))
    };
    let (_, met) = tables::met(least_met(own())?);
    let short: Vec<String> = own()
        .filter(|check| check.met != Met::Meets)
        .map(|check| format!("{}: {}", check.rule.to_lowercase(), check.found))
        .collect();
    let short = match short.len() {
        0 => String::new(),
        _ => format!(" ({})", short.join("; ")),
    };
    Some(format!(
        "The design, held against published rules: {met}{short}. It is no mark of the therapy."
    ))
}

/// A warning as a page says it.
pub(super) struct Caution {
    pub(super) found: String,
    pub(super) means: &'static str,
    pub(super) advice: &'static str,
}

impl From<&Warning> for Caution {
    fn from(warning: &Warning) -> Self {
        Self {
            found: warning.found.clone(),
            means: warning.means,
            advice: warning.advice,
        }
    }
}

/// What to keep in mind of the whole round.
pub(super) fn of_the_round(found: &RoundFindings) -> Vec<Caution> {
    let all = found.warnings.iter();
    all.filter(|warning| warning.child.is_none())
        .map(Caution::from)
        .collect()
}
