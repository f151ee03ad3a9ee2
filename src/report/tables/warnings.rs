//! What a reader must keep in mind, each with its rule.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::field;
use super::words;
use crate::analysis::Concern;
use crate::analysis::Warning;

const COLUMNS: [Column; 6] = [
    words(
        "About",
        &[field(
            "concern",
            "what the warning is about",
            "",
            "short-baseline, rising-baseline, low-start, chosen-low, unequal-lists, room-tells, small-panel, phases-guessed, voice-known",
        )],
    ),
    words(
        "Child",
        &[field(
            "child",
            "whom it concerns; empty: the whole round",
            "",
            "a code of the study",
        )],
    ),
    words(
        "Found",
        &[field("found", "what was found", "", "a sentence")],
    ),
    words(
        "Means",
        &[field("means", "what it means", "", "a sentence")],
    ),
    words("Do", &[field("advice", "what to do", "", "a sentence")]),
    words(
        "Rule",
        &[field(
            "rule",
            "the rule by which it is said, with its source",
            "",
            "a sentence",
        )],
    ),
];

/// One row a warning.
pub fn warnings(found: &[Warning]) -> Table {
    let rows = found.iter().map(|warning| {
        let (exact, shown) = about(warning.concern);
        vec![
            Cell::term(exact, shown),
            Cell::words(warning.child.clone().unwrap_or_default()),
            Cell::words(&warning.found),
            Cell::words(warning.means),
            Cell::words(warning.advice),
            Cell::words(warning.rule),
        ]
    });
    Table {
        name: "warnings",
        caption: "By which rule each warning is said.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: rows.collect(),
        notes: Vec::new(),
    }
}

const fn about(concern: Concern) -> (&'static str, &'static str) {
    match concern {
        Concern::ShortBaseline => ("short-baseline", "short baseline"),
        Concern::RisingBaseline => ("rising-baseline", "rising baseline"),
        Concern::LowStart => ("low-start", "low start"),
        Concern::ChosenLow => ("chosen-low", "chosen for low scores"),
        Concern::UnequalLists => ("unequal-lists", "unequal word lists"),
        Concern::RoomTells => ("room-tells", "the room"),
        Concern::SmallPanel => ("small-panel", "small panel"),
        Concern::PhasesGuessed => ("phases-guessed", "phases guessed"),
        Concern::VoiceKnown => ("voice-known", "known voice"),
    }
}
