//! Listeners: how each of them judged, who is kept and why, and what the rules do.

use super::super::number::exact;
use super::super::number::fixed;
use super::super::number::maybe;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::COUNT;
use super::SHARE;
use super::field;
use super::number;
use super::words;
use crate::analysis::ListenerFinding;
use crate::analysis::Listeners;

const COLUMNS: [Column; 13] = [
    words(
        "Listener",
        &[field("listener", "the listener's code", "", "a code")],
    ),
    words(
        "Kept",
        &[field(
            "kept",
            "whether the sealed rules keep her",
            "",
            "true, false",
        )],
    ),
    number(
        "Judgements",
        &[field("judgements", "main judgements", "", COUNT)],
    ),
    number(
        "Said 'correct'",
        &[field(
            "positive_rate",
            "share of main judgements 'correct'",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Checks right",
        &[
            field(
                "check_hits",
                "correct check tokens called correct",
                "",
                COUNT,
            ),
            field(
                "check_correct_items",
                "check tokens that are correct",
                "",
                COUNT,
            ),
            field(
                "check_false_alarms",
                "distorted check tokens called correct",
                "",
                COUNT,
            ),
            field(
                "check_distorted_items",
                "check tokens that are distorted",
                "",
                COUNT,
            ),
        ],
    ),
    number(
        "d′",
        &[field(
            "d_prime",
            "sensitivity on check tokens, log-linear correction (Hautus 1995); 'correct' is the signal",
            "",
            "a number",
        )],
    ),
    number(
        "c",
        &[field(
            "criterion",
            "below 0 she leans to 'correct'",
            "",
            "a number",
        )],
    ),
    number(
        "Repeats alike",
        &[
            field(
                "repeat_agreement",
                "share of repeated tokens judged alike",
                "share of 1",
                SHARE,
            ),
            field("repeat_pairs", "tokens heard again", "", COUNT),
        ],
    ),
    number(
        "κ of repeats",
        &[field(
            "repeat_kappa",
            "Cohen's kappa with herself",
            "",
            "at most 1",
        )],
    ),
    number(
        "As the rest",
        &[field(
            "rest_agreement",
            "mean share of the others who say the same",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Drift",
        &[
            field(
                "drift_per_100",
                "change of the log odds of 'correct' over 100 places",
                "natural log",
                "a number",
            ),
            field("drift_p", "against none, two-sided", "", SHARE),
        ],
    ),
    number(
        "Time, s",
        &[field(
            "median_rt_ms",
            "middle time from the end of the sound to the press",
            "ms",
            "at least 0",
        )],
    ),
    words(
        "Why left out",
        &[field(
            "why",
            "rules that she fails",
            "",
            "sentences parted by a semicolon; empty: kept",
        )],
    ),
];

/// One row for each listener.
pub fn listeners(found: &Listeners) -> Table {
    let mut notes: Vec<String> = found
        .listeners
        .iter()
        .flat_map(|listener| &listener.not_applied)
        .map(|reason| format!("Not applied: {reason}."))
        .collect();
    notes.dedup();
    Table {
        name: "listener_quality",
        caption: "Each listener, known by a random code alone.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.listeners.iter().map(row).collect(),
        notes,
    }
}

fn row(found: &ListenerFinding) -> Vec<Cell> {
    let (check, repeat) = (&found.check, &found.repeat);
    let right =
        check.hits + (check.n_distorted_items - check.false_alarms.min(check.n_distorted_items));
    let checks = check.n_correct_items + check.n_distorted_items;
    vec![
        Cell::words(&found.rater),
        Cell::term(
            found.kept.to_string(),
            if found.kept { "kept" } else { "left out" },
        ),
        Cell::count(found.judgements as usize),
        Cell::share(found.positive_rate),
        Cell {
            shown: if checks == 0 {
                "none heard".to_owned()
            } else {
                format!("{right} of {checks}")
            },
            exact: [
                check.hits,
                check.n_correct_items,
                check.false_alarms,
                check.n_distorted_items,
            ]
            .map(|n| n.to_string())
            .to_vec(),
        },
        Cell::fixed(check.d_prime, 2),
        Cell::fixed(check.criterion, 2),
        Cell {
            shown: repeat.agreement.map_or_else(
                || "none heard".to_owned(),
                |share| {
                    format!(
                        "{} of {}",
                        fixed(share * f64::from(repeat.pairs), 0),
                        repeat.pairs
                    )
                },
            ),
            exact: vec![exact(repeat.agreement), repeat.pairs.to_string()],
        },
        Cell::fixed(repeat.kappa, 2),
        Cell::share(found.rest_of_panel.agreement),
        Cell {
            shown: maybe(found.drift.slope_per_100, 2),
            exact: vec![exact(found.drift.slope_per_100), exact(found.drift.p)],
        },
        Cell {
            shown: maybe(found.median_rt_ms.map(|ms| ms / 1000.0), 2),
            exact: vec![exact(found.median_rt_ms)],
        },
        Cell::words(found.why.join("; ")),
    ]
}

const RULES: [Column; 5] = [
    words("Rule", &[field("rule", "who is kept", "", "a sentence")]),
    number(
        "Listeners who fail",
        &[field("fail", "listeners who fail it", "", COUNT)],
    ),
    number(
        "A guesser passes",
        &[field(
            "guesser_passes",
            "probability that somebody who guesses passes",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "A careful listener fails",
        &[field(
            "careful_listener_fails",
            "probability that a careful listener fails",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "'Careful' means",
        &[field(
            "careful_accuracy",
            "accuracy of a careful listener",
            "share of 1",
            SHARE,
        )],
    ),
];

/// The sealed rules with what they do.
pub fn rules(found: &Listeners) -> Table {
    Table {
        name: "screening",
        caption: "The rules for keeping a listener, sealed before anyone listened.".to_owned(),
        columns: RULES.to_vec(),
        rows: found
            .rules
            .iter()
            .map(|rule| {
                vec![
                    Cell::words(&rule.rule),
                    Cell::count(rule.fail),
                    Cell::share(rule.guesser_passes),
                    Cell::share(rule.careful_listener_fails),
                    Cell::share(Some(rule.careful_accuracy)),
                ]
            })
            .collect(),
        notes: super::notes(
            found
                .rules
                .iter()
                .map(|rule| (rule.rule.clone(), &rule.reasons)),
        ),
    }
}
