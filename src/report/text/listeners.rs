//! Listeners as a readable table.

use std::fmt::Write;

use super::columns::NO_JUDGEMENTS;
use super::columns::columns;
use super::columns::header;
use super::columns::interval;
use super::columns::number;
use super::columns::p_value;
use super::columns::percent;
use crate::analysis::Listeners;

/// Listeners as a readable table, then each exclusion with its reason, then each rule with its chances.
pub fn listeners(found: &Listeners) -> String {
    if found.listeners.is_empty() {
        return NO_JUDGEMENTS.to_owned();
    }
    let mut rows = vec![header([
        "Listener",
        "judged",
        "positive",
        "checks",
        "d'",
        "c",
        "repeats",
        "interval",
        "rest",
        "r",
        "drift/100",
        "p",
        "median ms",
        "kept",
    ])];
    for one in &found.listeners {
        rows.push(vec![
            one.rater.clone(),
            one.judgements.to_string(),
            percent(one.positive_rate),
            percent(one.check.accuracy),
            number(one.check.d_prime),
            number(one.check.criterion),
            percent(one.repeat.agreement),
            interval(one.repeat.ci),
            percent(one.rest_of_panel.agreement),
            number(one.rest_of_panel.correlation),
            number(one.drift.slope_per_100),
            p_value(one.drift.p),
            one.median_rt_ms
                .map_or_else(|| "–".to_owned(), |ms| format!("{:.0}", ms.round())),
            if one.kept { "yes" } else { "no" }.to_owned(),
        ]);
    }
    let mut text = columns(&rows);
    let mut notes = String::new();
    for one in &found.listeners {
        for reason in &one.why {
            // Writing to a String cannot fail.
            let _ = writeln!(notes, "  {} is left out: {reason}", one.rater);
        }
        for reason in &one.not_applied {
            let _ = writeln!(notes, "  {}: not applied: {reason}", one.rater);
        }
    }
    if !notes.is_empty() {
        let _ = write!(text, "\n{notes}");
    }
    if !found.rules.is_empty() {
        let mut rows = vec![header([
            "Rule",
            "fail",
            "a guesser passes",
            "a careful listener fails",
            "on",
        ])];
        for rule in &found.rules {
            rows.push(vec![
                rule.rule.clone(),
                rule.fail.to_string(),
                percent(rule.guesser_passes),
                percent(rule.careful_listener_fails),
                rule.trials
                    .map_or_else(|| "–".to_owned(), |n| n.to_string()),
            ]);
        }
        let _ = write!(text, "\n{}", columns(&rows));
        if let Some(rule) = found.rules.first() {
            let _ = writeln!(
                text,
                "Careful: right on {} of check words.",
                percent(Some(rule.careful_accuracy))
            );
        }
    }
    for (field, reason) in found.reasons.iter() {
        let _ = writeln!(text, "{field}: {reason}");
    }
    text
}
