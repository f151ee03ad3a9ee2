//! Conditions beside each other, within each child.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::DIFFERENCE;
use super::SHARE;
use super::field;
use super::number;
use super::words;
use crate::analysis::Outcome;

pub(super) const FIRST: Column = words(
    "First",
    &[field(
        "first",
        "the first condition",
        "",
        "a condition of the study",
    )],
);

pub(super) const SECOND: Column = words(
    "Second",
    &[field(
        "second",
        "the second condition",
        "",
        "a condition of the study",
    )],
);

const COLUMNS: [Column; 8] = [
    CHILD,
    FIRST,
    SECOND,
    number(
        "Mean under first",
        &[field(
            "mean_first",
            "mean accuracy of the sessions under the first",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Under second",
        &[field(
            "mean_second",
            "mean accuracy of the sessions under the second",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Difference",
        &[field(
            "difference",
            "second less first",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit of the difference",
                "share of 1",
                DIFFERENCE,
            ),
            field("ci_high", "upper limit of it", "share of 1", DIFFERENCE),
        ],
    ),
    number(
        "Detectable",
        &[field(
            "mdc95",
            "minimal detectable difference of this design",
            "share of 1",
            SHARE,
        )],
    ),
];

/// Two ways of treating within each child.
pub fn conditions(found: &Outcome) -> Table {
    Table {
        name: "conditions",
        caption: "Conditions beside each other".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found
            .conditions
            .iter()
            .map(|row| {
                vec![
                    Cell::words(&row.child),
                    Cell::words(&row.from),
                    Cell::words(&row.to),
                    Cell::share(row.mean_from),
                    Cell::share(row.mean_to),
                    Cell::points(row.difference),
                    Cell::points_limits(row.ci),
                    Cell::fixed_points(row.mdc95),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}
