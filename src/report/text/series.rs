//! Change in a series as a readable table.

use std::fmt::Write;

use super::columns::columns;
use super::columns::number;
use super::columns::p_value;
use super::effects;
use crate::analysis::SeriesFinding;

/// Change in a series as a readable table: a sentence a case with its figures, then the test.
pub fn series(found: &SeriesFinding) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    for change in &found.changes {
        let _ = writeln!(
            text,
            "{} ({} sessions of {}, {} of {})\n  {}",
            change.child,
            change.sessions_from,
            change.from,
            change.sessions_to,
            change.to,
            change.sentence
        );
        text.push_str(&columns(&effects::rows(&change.effects)));
        text.push('\n');
    }
    if let Some(test) = &found.randomisation {
        let _ = writeln!(
            text,
            "Randomisation test: the smallest p that this design could give is {}. Observed {}, p {} over {} assignments{}.",
            p_value(Some(test.smallest_p)),
            number(Some(test.observed)),
            p_value(Some(test.p)),
            test.assignments,
            if test.exact { "" } else { ", drawn" },
        );
    }
    for (field, reason) in found.reasons.iter() {
        let _ = writeln!(text, "Not computed: {field}: {reason}");
    }
    text
}
