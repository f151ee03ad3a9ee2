//! Changes: the primary figures with their verdict, every other measure beside them, cohorts, and the panel three ways.

use super::super::number::count;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::DIFFERENCE;
use super::DIFFERENCE_OF_MEANS;
use super::INTERVAL_OF_DIFFERENCE;
use super::SHARE;
use super::VERDICT;
use super::WORDS;
use super::field;
use super::measures::about;
use super::notes;
use super::number;
use super::word_set;
use super::words;
use crate::analysis::ChangeFinding;
use crate::analysis::CohortFinding;
use crate::analysis::Outcome;
use crate::analysis::PanelFinding;

const COLUMNS: [Column; 11] = [
    CHILD,
    WORDS,
    words(
        "Sessions",
        &[
            field(
                "sessions_from",
                "sessions of the earlier phase that count",
                "",
                COUNT,
            ),
            field(
                "sessions_to",
                "sessions of the later phase that count",
                "",
                COUNT,
            ),
        ],
    ),
    number(
        "Before",
        &[field(
            "mean_from",
            "unweighted mean of the earlier sessions",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "After",
        &[field(
            "mean_to",
            "unweighted mean of the later sessions",
            "share of 1",
            SHARE,
        )],
    ),
    DIFFERENCE_OF_MEANS,
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit: of the child where both sides have three sessions, else between these recordings",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "ci_high",
                "upper limit of the same",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Between these recordings",
        &[
            field(
                "ci_these_days_low",
                "lower limit between the recordings at hand",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "ci_these_days_high",
                "upper limit of the same",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Detectable change, points",
        &[field(
            "mdc95",
            "minimal detectable change of this design: 1.96 standard errors of a difference under no change",
            "share of 1",
            SHARE,
        )],
    ),
    words(
        "It carries",
        &[field(
            "mdc95_includes_sessions",
            "whether the minimal detectable change carries good and bad days",
            "",
            "true, false",
        )],
    ),
    VERDICT,
];

/// One row for each child and set of words.
pub fn changes<'a>(found: impl Iterator<Item = &'a ChangeFinding> + Clone) -> Table {
    Table {
        name: "changes",
        caption: "The change of each child over the sealed contrast.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.clone().map(change).collect(),
        notes: about(found, &["difference", "ci", "mdc95"]),
    }
}

fn change(found: &ChangeFinding) -> Vec<Cell> {
    let (exact, shown) = word_set(found.words);
    let carries = if found.mdc95_includes_sessions {
        "words, listeners, days"
    } else {
        "words, listeners"
    };
    vec![
        Cell::words(&found.child),
        Cell::term(exact, shown),
        Cell {
            shown: format!("{} and {}", found.sessions_from, found.sessions_to),
            exact: vec![
                found.sessions_from.to_string(),
                found.sessions_to.to_string(),
            ],
        },
        Cell::share(found.mean_from),
        Cell::share(found.mean_to),
        Cell::points(found.difference),
        Cell::points_limits(found.ci),
        Cell::points_limits(found.ci_these_days),
        Cell::fixed_points(found.mdc95),
        Cell::term(found.mdc95_includes_sessions.to_string(), carries),
        Cell::term(found.verdict, verdict(found)),
    ]
}

/// A verdict in words, and of what it speaks.
pub(in crate::report) fn verdict(found: &ChangeFinding) -> &'static str {
    verdict_words(found.verdict, found.mdc95_includes_sessions)
}

/// The same of any change; `of_the_child`: whether it carries good and bad days.
pub(in crate::report) fn verdict_words(verdict: &str, of_the_child: bool) -> &'static str {
    match (verdict, of_the_child) {
        ("improved", true) => "improved",
        ("improved", false) => "these recordings improved",
        ("declined", true) => "declined",
        ("declined", false) => "these recordings declined",
        ("no_relevant_change", true) => "no relevant change",
        ("no_relevant_change", false) => "no relevant change in these recordings",
        _ => "cannot be told yet",
    }
}

const COHORTS: [Column; 4] = [
    words(
        "Cohort",
        &[field(
            "cohort",
            "way of treating",
            "",
            "a cohort of the study",
        )],
    ),
    number(
        "Children",
        &[field(
            "children",
            "children whose change is known",
            "",
            COUNT,
        )],
    ),
    number(
        "Mean change, points",
        &[field(
            "mean_change",
            "unweighted mean of the children's differences",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit by Student's t over children",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "ci_high",
                "upper limit of the same",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
];

/// The cohorts side by side.
pub fn cohorts(found: &[CohortFinding]) -> Table {
    Table {
        name: "cohorts",
        caption: "The cohorts side by side; the child is the unit.".to_owned(),
        columns: COHORTS.to_vec(),
        rows: found
            .iter()
            .map(|cohort| {
                vec![
                    Cell::words(&cohort.cohort),
                    Cell::count(cohort.children),
                    Cell::points(cohort.mean_change),
                    limits_over_children(cohort),
                ]
            })
            .collect(),
        notes: notes(found.iter().map(|c| (c.cohort.clone(), &c.reasons))),
    }
}

/// The limits of a cohort's mean change; words instead where they hold every change that there could be.
fn limits_over_children(cohort: &CohortFinding) -> Cell {
    let cell = Cell::points_limits(cohort.ci);
    match too_few_children(cohort) {
        Some(shown) => Cell { shown, ..cell },
        None => cell,
    }
}

/// What to say instead of limits that hold all of the scale: "2 children cannot tell".
pub(in crate::report) fn too_few_children(cohort: &CohortFinding) -> Option<String> {
    let [low, high] = cohort.ci?;
    let tells = low > -1.0 || high < 1.0;
    (!tells).then(|| format!("{} children cannot tell", count(cohort.children)))
}

const PANELS: [Column; 6] = [
    CHILD,
    WORDS,
    words(
        "Listeners",
        &[field(
            "panel",
            "which listeners count",
            "",
            "kept, all, weighted",
        )],
    ),
    DIFFERENCE_OF_MEANS,
    INTERVAL_OF_DIFFERENCE,
    VERDICT,
];

/// The changes as the kept, all, and all by weight heard them.
pub fn panels(outcome: &Outcome) -> Table {
    let mut rows = Vec::new();
    if let Some(panels) = &outcome.panels {
        for (place, kept) in panels.kept.changes.iter().enumerate() {
            let others = [
                ("kept", "kept", Some(&panels.kept)),
                ("all", "all", Some(&panels.all)),
                ("weighted", "all, by weight", panels.weighted.as_ref()),
            ];
            for (exact, shown, panel) in others {
                rows.extend(panel.and_then(|panel| panel_row(kept, exact, shown, panel, place)));
            }
        }
    }
    Table {
        name: "panels",
        caption: "The same changes with every listener, and with every listener by her weight."
            .to_owned(),
        columns: PANELS.to_vec(),
        rows,
        notes: Vec::new(),
    }
}

fn panel_row(
    kept: &ChangeFinding,
    exact: &str,
    shown: &str,
    panel: &PanelFinding,
    place: usize,
) -> Option<Vec<Cell>> {
    let found = panel.changes.get(place)?;
    let (words, words_shown) = word_set(kept.words);
    Some(vec![
        Cell::words(&kept.child),
        Cell::term(words, words_shown),
        Cell::term(exact, shown),
        Cell::points(found.difference),
        Cell::points_limits(found.ci),
        Cell::term(found.verdict, verdict(found)),
    ])
}
