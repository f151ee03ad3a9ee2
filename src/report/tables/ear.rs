//! What is missing, where lists of words differ, and the scores of the sessions beside the panel's.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::DIFFERENCE;
use super::SHARE;
use super::field;
use super::number;
use super::words;
use crate::analysis::Completeness;
use crate::analysis::ListFollowed;
use crate::analysis::Outcome;
use crate::analysis::OwnEar;

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

const LISTS: [Column; 5] = [
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
        columns: LISTS.to_vec(),
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

const CONDITIONS: [Column; 8] = [
    CHILD,
    words(
        "First",
        &[field(
            "first",
            "the first condition",
            "",
            "a condition of the study",
        )],
    ),
    words(
        "Second",
        &[field(
            "second",
            "the second condition",
            "",
            "a condition of the study",
        )],
    ),
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
        columns: CONDITIONS.to_vec(),
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

const FOLLOWED: [Column; 5] = [
    CHILD,
    number(
        "Session",
        &[field(
            "session",
            "recording occasion of the child, counted from 1",
            "",
            COUNT,
        )],
    ),
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
        columns: FOLLOWED.to_vec(),
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

const EAR: [Column; 7] = [
    CHILD,
    number(
        "Session",
        &[field(
            "session",
            "recording occasion of the child, counted from 1",
            "",
            COUNT,
        )],
    ),
    words(
        "Phase",
        &[field(
            "phase",
            "phase of the session",
            "",
            "a phase of the study",
        )],
    ),
    number(
        "Words",
        &[field(
            "words",
            "words that she and the panel scored",
            "",
            COUNT,
        )],
    ),
    number(
        "In the session",
        &[field(
            "hers",
            "share scored correct in the session",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Panel",
        &[field(
            "panel",
            "mean share judged correct by the panel",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Agreement",
        &[field(
            "agreement",
            "share of words scored as the panel's majority heard them",
            "share of 1",
            SHARE,
        )],
    ),
];

/// The scores of the sessions beside the panel's.
pub fn own_ear(found: &OwnEar) -> Table {
    Table {
        name: "own_ear",
        caption: "Scores in the session beside the panel's".to_owned(),
        columns: EAR.to_vec(),
        rows: found
            .sessions
            .iter()
            .map(|session| {
                vec![
                    Cell::words(&session.child),
                    Cell::count(session.session as usize),
                    Cell::words(&session.phase),
                    Cell::count(session.words),
                    Cell::share(Some(session.hers)),
                    Cell::share(Some(session.panel)),
                    Cell::share(Some(session.agreement)),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}
