//! The design held against published rules.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::field;
use super::words;
use crate::analysis::DesignCheck;
use crate::analysis::Met;

const COLUMNS: [Column; 5] = [
    words(
        "Child",
        &[field(
            "child",
            "whose design is looked at; empty: that of the study",
            "",
            "a code of the study",
        )],
    ),
    words(
        "Looked at",
        &[field("looked_at", "what is looked at", "", "words")],
    ),
    words(
        "Found",
        &[field("found", "what the study has", "", "words")],
    ),
    words(
        "Held against the rule",
        &[field(
            "met",
            "whether that is enough for the rule",
            "",
            "meets, with_reservations, does_not_meet",
        )],
    ),
    words(
        "Rule",
        &[field("rule", "the rule and who says so", "", "a sentence")],
    ),
];

/// One row for each rule and child, those of the study first.
pub fn design<'a>(found: impl Iterator<Item = &'a DesignCheck>) -> Table {
    let rows = found.map(|check| {
        let (exact, shown) = met(check.met);
        vec![
            Cell::term(
                check.child.clone().unwrap_or_default(),
                check
                    .child
                    .clone()
                    .unwrap_or_else(|| "the study".to_owned()),
            ),
            Cell::words(check.rule),
            Cell::words(&check.found),
            Cell::term(exact, shown),
            Cell::words(check.source),
        ]
    });
    Table {
        name: "design",
        caption: "The design, held against published rules.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: rows.collect(),
        notes: Vec::new(),
    }
}

/// What a file calls it, and what a page calls it.
pub(in crate::report) const fn met(met: Met) -> (&'static str, &'static str) {
    match met {
        Met::Meets => ("meets", "meets it"),
        Met::WithReservations => ("with_reservations", "with reservations"),
        Met::DoesNotMeet => ("does_not_meet", "does not meet it"),
    }
}
