//! Several rounds on one scale: the links between their panels, the placed sessions, and the changes over all rounds.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::DIFFERENCE;
use super::PHASE;
use super::SESSION;
use super::SHARE;
use super::field;
use super::number;
use super::verdict_words;
use super::words;
use crate::analysis::RoundsFinding;

const LINKS: [Column; 7] = [
    words(
        "Round",
        &[field(
            "round",
            "the later round",
            "",
            "a round of the study",
        )],
    ),
    words(
        "Beside",
        &[field(
            "beside",
            "the earlier round",
            "",
            "a round of the study",
        )],
    ),
    number(
        "Links",
        &[field("links", "words that both panels heard", "", COUNT)],
    ),
    number(
        "Difference",
        &[field(
            "difference",
            "mean share of 'correct' by the later panel less that by the earlier one",
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
            field(
                "ci_high",
                "upper limit of the difference",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Log odds",
        &[field(
            "log_odds",
            "leniency of the later panel beside the earlier one, for one word",
            "log odds",
            "any number",
        )],
    ),
    number(
        "Would do",
        &[field("links_needed", "how many links would do", "", COUNT)],
    ),
];

const PANELS: [Column; 7] = [
    words(
        "Round",
        &[field("round", "the round", "", "a round of the study")],
    ),
    number(
        "Listeners",
        &[field(
            "listeners",
            "listeners whom the sealed rules keep",
            "",
            COUNT,
        )],
    ),
    number(
        "Left out",
        &[field(
            "left_out",
            "listeners who judged and whom the rules leave out",
            "",
            COUNT,
        )],
    ),
    number(
        "Words",
        &[field(
            "tokens",
            "recordings that the kept listeners judged, links among them",
            "",
            COUNT,
        )],
    ),
    number(
        "Judgements",
        &[field("judgements", "their judgements", "", COUNT)],
    ),
    number(
        "Same answer",
        &[field(
            "percent_agreement",
            "how often two listeners gave the same answer to one recording",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Alpha",
        &[field(
            "krippendorff_alpha",
            "Krippendorff's alpha",
            "",
            "at most 1; 0 is chance",
        )],
    ),
];

/// The panel of each round.
pub fn panels_of_rounds(found: &RoundsFinding) -> Table {
    Table {
        name: "panels_of_rounds",
        caption: "Who heard each round, and how far they agreed".to_owned(),
        columns: PANELS.to_vec(),
        rows: found
            .panels
            .iter()
            .map(|panel| {
                vec![
                    Cell::words(&panel.round),
                    Cell::count(panel.listeners),
                    Cell::count(panel.left_out),
                    Cell::count(panel.tokens),
                    Cell::count(panel.judgements),
                    Cell::share(panel.percent_agreement),
                    Cell::coefficient(panel.krippendorff_alpha),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}

/// The links between the panels.
pub fn links(found: &RoundsFinding) -> Table {
    Table {
        name: "links",
        caption: "Words that two panels heard".to_owned(),
        columns: LINKS.to_vec(),
        rows: found
            .rounds
            .iter()
            .map(|round| {
                vec![
                    Cell::words(&round.round),
                    Cell::words(&round.beside),
                    Cell::count(round.links),
                    Cell::points(Some(round.difference)),
                    Cell::points_limits(round.ci),
                    Cell::coefficient(round.log_odds),
                    Cell::count(round.links_needed),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}

const SESSIONS: [Column; 8] = [
    CHILD,
    SESSION,
    PHASE,
    words(
        "Round",
        &[field(
            "round",
            "the round in which it was heard",
            "",
            "a round of the study",
        )],
    ),
    number(
        "Words",
        &[field("tokens", "words that were judged", "", COUNT)],
    ),
    number(
        "As heard",
        &[field(
            "as_heard",
            "share judged correct by its own panel",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "On one scale",
        &[field(
            "proportion_correct",
            "share that the first panel would have judged correct",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit on the one scale, linking error included",
                "share of 1",
                SHARE,
            ),
            field(
                "ci_high",
                "upper limit on the one scale",
                "share of 1",
                SHARE,
            ),
        ],
    ),
];

/// Every session on the scale of the first panel.
pub fn placed_sessions(found: &RoundsFinding) -> Table {
    Table {
        name: "placed_sessions",
        caption: format!("Sessions on the scale of round {}", found.reference),
        columns: SESSIONS.to_vec(),
        rows: found
            .sessions
            .iter()
            .map(|session| {
                vec![
                    Cell::words(&session.child),
                    Cell::count(session.session as usize),
                    Cell::words(&session.phase),
                    Cell::words(&session.round),
                    Cell::count(session.tokens),
                    Cell::share(Some(session.as_heard)),
                    Cell::share(Some(session.proportion_correct)),
                    Cell::shares(Some(session.ci)),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}

const CHANGES: [Column; 8] = [
    CHILD,
    number(
        "Sessions before",
        &[field(
            "sessions_from",
            "sessions of the earlier phase",
            "",
            COUNT,
        )],
    ),
    number(
        "Sessions after",
        &[field(
            "sessions_to",
            "sessions of the later phase",
            "",
            COUNT,
        )],
    ),
    number(
        "Change",
        &[field(
            "difference",
            "later less earlier mean on the one scale",
            "share of 1",
            DIFFERENCE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit of the change, linking error included",
                "share of 1",
                DIFFERENCE,
            ),
            field(
                "ci_high",
                "upper limit of the change",
                "share of 1",
                DIFFERENCE,
            ),
        ],
    ),
    number(
        "Detectable",
        &[field(
            "mdc95",
            "minimal detectable change, linking included",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Linking error",
        &[field(
            "linking_error",
            "standard error that linking alone brings",
            "share of 1",
            SHARE,
        )],
    ),
    words(
        "Verdict",
        &[field(
            "verdict",
            "what may be said",
            "",
            "improved, declined, no_relevant_change, cannot_tell",
        )],
    ),
];

/// Each child's change over all rounds.
pub fn placed_changes(found: &RoundsFinding) -> Table {
    Table {
        name: "placed_changes",
        caption: "Change over all rounds".to_owned(),
        columns: CHANGES.to_vec(),
        rows: found
            .changes
            .iter()
            .map(|change| {
                vec![
                    Cell::words(&change.child),
                    Cell::count(change.sessions_from),
                    Cell::count(change.sessions_to),
                    Cell::points(Some(change.difference)),
                    Cell::points_limits(Some(change.ci)),
                    Cell::fixed_points(Some(change.mdc95)),
                    Cell::fixed_points(Some(change.linking_error)),
                    Cell::term(
                        change.verdict,
                        verdict_words(change.verdict, change.mdc95_includes_sessions),
                    ),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}
