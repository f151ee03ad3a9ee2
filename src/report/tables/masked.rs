//! Masked visual analysis: each graph with its mark and the real start, and how well both agree.

use super::super::number;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::SHARE;
use super::field;
use super::notes;
use super::number;
use super::words;
use crate::analysis::MaskedFinding;
use crate::analysis::MaskedGraphFinding;

const GRAPHS: [Column; 8] = [
    CHILD,
    number(
        "Graph",
        &[field(
            "graph",
            "number of the graph in the order that was drawn",
            "",
            COUNT,
        )],
    ),
    number(
        "Points",
        &[field(
            "points",
            "judged sessions of the two phases compared",
            "",
            COUNT,
        )],
    ),
    words(
        "Change seen",
        &[field(
            "mark_before",
            "the first point after the change that was seen; empty with `sure` given: no change was seen",
            "point, counted from 1",
            "2, 3, …",
        )],
    ),
    words(
        "How sure",
        &[field(
            "sure",
            "how sure the analyst was; empty: the graph was not marked",
            "",
            "certain, probable, guess",
        )],
    ),
    words(
        "Real start",
        &[field(
            "start",
            "the first point of the later phase; empty where it had not begun",
            "point, counted from 1",
            COUNT,
        )],
    ),
    number(
        "Late by",
        &[field(
            "late_by",
            "the mark less the real start; below 0: marked too early",
            "points",
            "any whole number",
        )],
    ),
    words(
        "Within one",
        &[field(
            "within_one",
            "whether the mark is at most one session away from the start, or says that nothing changed where nothing began",
            "",
            "true, false",
        )],
    ),
];

/// Each graph of a masked analysis, by child.
pub fn masked(found: &MaskedFinding) -> Table {
    let mut graphs: Vec<&MaskedGraphFinding> = found.graphs.iter().collect();
    graphs.sort_by(|one, other| one.child.cmp(&other.child));
    Table {
        name: "masked_analysis",
        caption: "Where a change was seen in unnamed graphs, and where treatment began".to_owned(),
        columns: GRAPHS.to_vec(),
        rows: graphs.into_iter().map(row).collect(),
        notes: Vec::new(),
    }
}

fn row(graph: &MaskedGraphFinding) -> Vec<Cell> {
    let before = graph.mark.map(|mark| mark.before);
    let seen = match before {
        None => "not marked".to_owned(),
        Some(None) => "none".to_owned(),
        Some(Some(point)) => format!("before point {point}"),
    };
    let start = graph
        .start
        .map_or_else(|| "not begun".to_owned(), |start| format!("point {start}"));
    let within = match graph.within_one {
        None => number::NONE,
        Some(true) => "yes",
        Some(false) => "no",
    };
    vec![
        Cell::words(&graph.child),
        Cell::count(graph.graph as usize),
        Cell::count(graph.points),
        Cell::term(text(before.flatten()), seen),
        Cell::term(
            text(graph.sure()),
            graph.sure().map_or(number::NONE, |sure| sure.as_str()),
        ),
        Cell::term(text(graph.start), start),
        Cell::term(
            text(graph.late_by),
            graph
                .late_by
                .map_or_else(|| number::NONE.to_owned(), signed),
        ),
        Cell::term(text(graph.within_one), within),
    ]
}

fn text(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn signed(by: i64) -> String {
    match by {
        0 => "0".to_owned(),
        by if by > 0 => format!("+{by}"),
        by => format!("−{}", by.unsigned_abs()),
    }
}

const TEST: [Column; 8] = [
    number("Graphs", &[field("graphs", "graphs to judge", "", COUNT)]),
    number(
        "Marked",
        &[field("marked", "graphs that were marked", "", COUNT)],
    ),
    number(
        "Exact",
        &[field(
            "exact",
            "marks on the real start, or 'no change' where nothing began",
            "",
            COUNT,
        )],
    ),
    number(
        "Within one",
        &[field(
            "within_one",
            "marks at most one session away, those included",
            "",
            COUNT,
        )],
    ),
    number(
        "Missed by",
        &[field(
            "missed_by",
            "points by which the marks miss the starts that were drawn, summed; a graph without a change seen counts all its points",
            "points",
            COUNT,
        )],
    ),
    number(
        "Masked p",
        &[field(
            "p",
            "share of the possible draws of starts that the marks miss by no more",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Smallest p",
        &[field(
            "smallest_p",
            "the smallest that this design could give",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Draws",
        &[field(
            "draws",
            "draws of starts that were possible",
            "",
            COUNT,
        )],
    ),
];

/// How the marks agree with the starts, in one row.
pub fn masked_test(found: &MaskedFinding) -> Table {
    let missed = found.missed_by;
    Table {
        name: "masked_test",
        caption: "Agreement of the marks with the starts".to_owned(),
        columns: TEST.to_vec(),
        rows: vec![vec![
            Cell::count(found.graphs.len()),
            Cell::count(found.marked),
            Cell::count(found.exact),
            Cell::count(found.within_one),
            Cell::term(
                text(missed),
                missed.map_or_else(|| number::NONE.to_owned(), number::count),
            ),
            Cell::p_value(found.p),
            Cell::p_value(found.smallest_p),
            Cell::fixed(found.draws, 0),
        ]],
        notes: notes(std::iter::once((String::new(), &found.reasons))),
    }
}
