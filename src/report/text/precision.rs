//! Precision as a readable table.

use std::fmt::Write;

use super::columns::columns;
use super::columns::counted;
use super::columns::number;
use super::columns::percent;
use crate::analysis::Precision;

/// Precision as a readable table: components, forecast, and the panels that reach what was asked for.
pub fn precision(found: &Precision) -> String {
    if found.components.is_empty() {
        return "There are no two judgements to compare, so there is nothing to forecast from.\n"
            .to_owned();
    }
    let mut text = String::from("Where the variance of a judgement comes from\n\n");
    let mut rows = vec![["", "variance", "share"].map(str::to_owned).to_vec()];
    rows.extend(found.components.iter().map(|component| {
        vec![
            component.facet.to_owned(),
            format!("{:.4}", component.variance),
            percent(component.share),
        ]
    }));
    text.push_str(&columns(&rows));
    let sessions = found.forecast.first().map_or(0, |row| row.sessions);
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        "\nWhat a panel and a probe would give (mdc95: {sessions} sessions a phase)\n"
    );
    let head = [
        "listeners",
        "tokens",
        "standard error",
        "dependability",
        "mdc95",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(found.forecast.iter().map(|row| {
        vec![
            row.listeners.to_string(),
            row.tokens.to_string(),
            percent(Some(row.se)),
            number(row.dependability),
            percent(Some(row.mdc95)),
        ]
    }));
    text.push_str(&columns(&rows));
    for row in found.reached_by.iter().flatten() {
        let panel = row.listeners.map_or_else(
            || "no panel reaches it".to_owned(),
            |listeners| counted(listeners as usize, "listener"),
        );
        let _ = writeln!(
            text,
            "± {} with {} tokens a session: {panel}",
            percent(Some(row.half_width)),
            row.tokens
        );
    }
    for (field, reason) in found.reasons.iter() {
        let _ = writeln!(text, "{field}: {reason}");
    }
    text
}
