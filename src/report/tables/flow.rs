//! The listeners' flow, from those who were invited to those who were analysed.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::COUNT;
use super::field;
use super::number;
use super::words;
use crate::analysis::RoundFindings;

const COLUMNS: [Column; 2] = [
    words(
        "Listeners",
        &[field(
            "step",
            "how far listeners came, or why they were left out",
            "",
            "words",
        )],
    ),
    number("Number", &[field("listeners", "how many", "", COUNT)]),
];

const STEPS: [(&str, &str); 9] = [
    ("invited", "invited"),
    ("opened", "opened the link"),
    ("agreed", "started: agreed to take part"),
    ("began", "began to listen"),
    (
        "qualified",
        "qualified: came beyond sound check and practice",
    ),
    ("finished", "finished"),
    ("reference", "heard as a reference, beside the panel"),
    ("let_go", "let go by a sealed rule"),
    ("withdrew", "withdrew after they had finished"),
];

/// One row a step; those who were left out by reason, in the order of the sealed rules; the analysed last.
pub fn flow(found: &RoundFindings) -> Table {
    let of = |step: &str| Cell::count(found.flow.get(step).copied().unwrap_or(0));
    let mut rows: Vec<Vec<Cell>> = STEPS
        .iter()
        .map(|(step, shown)| vec![Cell::term(*step, *shown), of(step)])
        .collect();
    for left_out in &found.left_out {
        let why = format!("left out: {}", left_out.reason);
        rows.push(vec![Cell::words(why), Cell::count(left_out.listeners)]);
    }
    rows.push(vec![Cell::words("analysed"), of("analysed")]);
    Table {
        name: "listener_flow",
        caption: "From invited to analysed.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows,
        notes: Vec::new(),
    }
}
