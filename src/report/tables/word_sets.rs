//! Ways of treating that are carried by sets of words, within each child.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::DIFFERENCE;
use super::conditions::FIRST;
use super::conditions::SECOND;
use super::field;
use super::number;
use crate::analysis::Outcome;

/// Twice the change of a share.
const BETWEEN: &str = "-2 to 2";

const COLUMNS: [Column; 9] = [
    CHILD,
    FIRST,
    SECOND,
    number(
        "Change of words under first",
        &[field(
            "change_first",
            "change of the words under the first",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "change_first_ci_low",
                "lower limit of it",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "change_first_ci_high",
                "upper limit of it",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Under second",
        &[field(
            "change_second",
            "change of the words under the second",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "change_second_ci_low",
                "lower limit of it",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "change_second_ci_high",
                "upper limit of it",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Second less first",
        &[field(
            "difference",
            "second change less first",
            "share of 1",
            BETWEEN,
        )],
    ),
    number(
        "Interval",
        &[
            field("ci_low", "lower limit of it", "share of 1", BETWEEN),
            field("ci_high", "upper limit of it", "share of 1", BETWEEN),
        ],
    ),
];

/// The change of the words under each of two ways of treating, within each child.
pub fn word_sets(found: &Outcome) -> Table {
    Table {
        name: "word_sets",
        caption: "Words under two conditions".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found
            .word_sets
            .iter()
            .map(|row| {
                vec![
                    Cell::words(&row.child),
                    Cell::words(&row.from),
                    Cell::words(&row.to),
                    Cell::points(row.change_from),
                    Cell::points_limits(row.change_from_ci),
                    Cell::points(row.change_to),
                    Cell::points_limits(row.change_to_ci),
                    Cell::points(row.difference),
                    Cell::points_limits(row.ci),
                ]
            })
            .collect(),
        notes: vec![
            "The interval of the difference takes the two changes as independent of each other; it is rather too wide than too narrow."
                .to_owned(),
        ],
    }
}
