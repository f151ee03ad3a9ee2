//! What missing words could change.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::DIFFERENCE;
use super::field;
use super::number;
use crate::analysis::Completeness;

const MISSING: [Column; 8] = [
    CHILD,
    number(
        "Missing before",
        &[field(
            "missing_from",
            "words missing of the earlier sessions that count",
            "",
            COUNT,
        )],
    ),
    number(
        "Missing after",
        &[field(
            "missing_to",
            "words missing of the later sessions that count",
            "",
            COUNT,
        )],
    ),
    number(
        "Change found",
        &[field(
            "difference",
            "later less earlier mean as it was found",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "All correct",
        &[field(
            "all_correct",
            "the same with every missing word correct",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "All distorted",
        &[field(
            "all_distorted",
            "the same with every missing word distorted",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "At least",
        &[field(
            "lowest",
            "missing words correct before and distorted after",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "At most",
        &[field(
            "highest",
            "missing words distorted before and correct after",
            "share of 1",
            DIFFERENCE,
        )],
    ),
];

/// How far missing words could move each child's change.
pub fn completeness(found: &Completeness) -> Table {
    let said = |reasons: &std::collections::BTreeMap<String, usize>| -> String {
        let each: Vec<_> = reasons
            .iter()
            .map(|(reason, n)| format!("{reason} {n}"))
            .collect();
        if each.is_empty() {
            "none".to_owned()
        } else {
            each.join(", ")
        }
    };
    Table {
        name: "missing_bounds",
        caption: "What missing words could change".to_owned(),
        columns: MISSING.to_vec(),
        rows: found
            .bounds
            .iter()
            .map(|bound| {
                vec![
                    Cell::words(&bound.child),
                    Cell::count(bound.missing_from),
                    Cell::count(bound.missing_to),
                    Cell::points(Some(bound.difference)),
                    Cell::points(Some(bound.all_correct)),
                    Cell::points(Some(bound.all_distorted)),
                    Cell::points(Some(bound.lowest)),
                    Cell::points(Some(bound.highest)),
                ]
            })
            .collect(),
        notes: found
            .phases
            .iter()
            .map(|phase| {
                format!(
                    "{}: {} words judged; without a judgement {}; without a recording: {}; presentations set aside: {}.",
                    phase.phase,
                    phase.judged,
                    phase.unjudged,
                    said(&phase.not_recorded),
                    said(&phase.set_aside),
                )
            })
            .collect(),
    }
}
