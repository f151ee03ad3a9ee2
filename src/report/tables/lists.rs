//! Which list of words each session followed, and where lists differ.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::DIFFERENCE;
use super::SESSION;
use super::field;
use super::number;
use super::words;
use crate::analysis::ListFollowed;
use crate::analysis::Outcome;

const UNEQUAL: [Column; 5] = [
    CHILD,
    number(
        "Common words",
        &[field(
            "common",
            "words that every session of the comparison holds",
            "",
            COUNT,
        )],
    ),
    number(
        "Change on all",
        &[field(
            "difference",
            "change on all words",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "On common words",
        &[field(
            "difference_on_common",
            "change on the common words",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit of the change on the common words",
                "share of 1",
                DIFFERENCE,
            ),
            field("ci_high", "upper limit of it", "share of 1", DIFFERENCE),
        ],
    ),
];

/// Children whose sessions do not hold the same words.
pub fn unequal_lists(found: &Outcome) -> Table {
    Table {
        name: "unequal_lists",
        caption: "Children whose sessions do not hold the same words".to_owned(),
        columns: UNEQUAL.to_vec(),
        rows: found
            .unequal_lists
            .iter()
            .map(|child| {
                vec![
                    Cell::words(&child.child),
                    Cell::count(child.common),
                    Cell::points(child.difference),
                    Cell::points(child.difference_on_common),
                    Cell::points_limits(child.ci_on_common),
                ]
            })
            .collect(),
        notes: found
            .unequal_lists
            .iter()
            .map(|child| {
                let sessions: Vec<_> = child
                    .sessions
                    .iter()
                    .map(|list| {
                        format!(
                            "session {}: {} words, {} of them not common",
                            list.session, list.words, list.not_common
                        )
                    })
                    .collect();
                format!("{}: {}.", child.child, sessions.join("; "))
            })
            .collect(),
    }
}

const LISTS: [Column; 5] = [
    CHILD,
    SESSION,
    words(
        "List",
        &[field(
            "list",
            "the word list that it followed, with its version",
            "",
            "a list of the study; empty for none",
        )],
    ),
    words(
        "Lacks",
        &[field(
            "lacks",
            "words of the nearest list that the session lacks",
            "",
            "words",
        )],
    ),
    words(
        "Beside it",
        &[field(
            "beside",
            "words that stand in no such list",
            "",
            "words",
        )],
    ),
];

/// Which version of which list each session followed.
pub fn lists(found: &[ListFollowed]) -> Table {
    Table {
        name: "lists",
        caption: "Word lists that the sessions followed".to_owned(),
        columns: LISTS.to_vec(),
        rows: found
            .iter()
            .map(|row| {
                vec![
                    Cell::words(&row.child),
                    Cell::count(row.session as usize),
                    Cell::term(
                        row.list.clone().unwrap_or_default(),
                        row.list.as_deref().unwrap_or("none"),
                    ),
                    Cell::words(row.lacks.join(", ")),
                    Cell::words(row.beside.join(", ")),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}
