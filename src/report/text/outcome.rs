//! An outcome as a readable table.

use std::fmt::Write;

use super::super::tables::too_few_children;
use super::columns::columns;
use super::columns::p_value;
use super::columns::percent;
use super::effects;
use crate::analysis::ChangeFinding;
use crate::analysis::Outcome;
use crate::analysis::SessionFinding;
use crate::analysis::Words;

const CAUTION: &str = "These figures inform the judgement of a licensed speech-language professional and do not \
replace it. A small cohort shows what happened to these children, not to all.\n";

/// An outcome as a readable table: sessions, then each child's change in a sentence with its figures.
pub fn outcome(found: &Outcome) -> String {
    let mut text = String::from("Sessions\n\n");
    text.push_str(&sessions(&found.sessions));
    text.push_str("\nChange\n");
    for change in &found.changes {
        text.push_str(&one_change(change));
    }
    if found.changes.is_empty() {
        text.push_str("\nNone: the reason stands below.\n");
    } else {
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "\nBy chance alone, about {:.1} of these children would be called improved without being so.",
            found.false_improved_expected
        );
    }
    text.push_str(&cohorts(found));
    if let Some(panels) = &found.panels {
        let weighted = panels
            .weighted
            .as_ref()
            .map_or("not weighted", |_| "weighted");
        let _ = writeln!(
            text,
            "\nAbove stand the kept listeners; --json holds all three panels (all, kept, {weighted})."
        );
    }
    if !found.reasons.is_empty() {
        text.push_str("\nNot computed, or with something left out:\n");
        for (field, reason) in found.reasons.iter() {
            let _ = writeln!(text, "  {field}: {reason}");
        }
    }
    let _ = write!(text, "\n{CAUTION}");
    text
}

fn sessions(sessions: &[SessionFinding]) -> String {
    let head = [
        "child",
        "session",
        "phase",
        "words",
        "tokens",
        "judgements",
        "correct",
        "interval",
        "majority",
        "ties",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(sessions.iter().map(|session| {
        vec![
            if session.peer {
                format!("{} (peer)", session.child)
            } else {
                session.child.clone()
            },
            session.session.to_string(),
            session.phase.clone(),
            words(session.words).to_owned(),
            session.tokens.to_string(),
            session.judgements.to_string(),
            percent(session.proportion_correct),
            limits(session.ci),
            percent(session.consensus_accuracy),
            session.ties.to_string(),
        ]
    }));
    columns(&rows)
}

fn one_change(change: &ChangeFinding) -> String {
    let mut text = format!(
        "\n{} ({} words, {} to {}): {}\n  {}\n",
        change.child,
        words(change.words),
        change.from,
        change.to,
        change.verdict.replace('_', " "),
        change.sentence
    );
    let mut rows = vec![vec![
        "  these days".to_owned(),
        percent(change.difference),
        limits(change.ci_these_days),
    ]];
    rows.extend(effects::rows(&change.effects));
    text.push_str(&columns(&rows));
    text
}

fn cohorts(found: &Outcome) -> String {
    if found.cohorts.is_empty() {
        return String::new();
    }
    let mut rows = vec![
        ["cohort", "children", "mean change", "interval"]
            .map(str::to_owned)
            .to_vec(),
    ];
    rows.extend(found.cohorts.iter().map(|cohort| {
        vec![
            cohort.cohort.clone(),
            cohort.children.to_string(),
            percent(cohort.mean_change),
            too_few_children(cohort).unwrap_or_else(|| limits(cohort.ci)),
        ]
    }));
    let mut text = format!("\nCohorts\n\n{}", columns(&rows));
    if let Some(test) = &found.cohort_test {
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "The smallest p that this design could give is {}. Difference {} ({}), p {} over {} arrangements{}.",
            p_value(Some(test.smallest_p)),
            percent(Some(test.difference)),
            limits(test.ci),
            p_value(Some(test.p)),
            test.arrangements,
            if test.exact { "" } else { ", drawn" },
        );
    }
    text
}

fn words(words: Words) -> &'static str {
    match words {
        Words::All => "all",
        Words::Treated => "treated",
        Words::Untreated => "untreated",
    }
}

/// An interval in percent.
fn limits(ci: Option<[f64; 2]>) -> String {
    ci.map_or_else(
        || "–".to_owned(),
        |[low, high]| format!("{} to {}", percent(Some(low)), percent(Some(high))),
    )
}
