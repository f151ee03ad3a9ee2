//! The other measures of change: overlap of sessions, standardised differences, ratios.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::DIFFERENCE;
use super::SHARE;
use super::WORDS;
use super::field;
use super::notes;
use super::number;
use super::plain;
use super::word_set;
use crate::analysis::ChangeFinding;

const MEASURES: [Column; 9] = [
    CHILD,
    WORDS,
    number(
        "NAP",
        &[field(
            "nap",
            "nonoverlap of all pairs of sessions, one from each phase",
            "",
            SHARE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "nap_ci_low",
                "lower limit, Newcombe 2006 method 5, session scores taken as exact",
                "",
                SHARE,
            ),
            field("nap_ci_high", "upper limit of the same", "", SHARE),
        ],
    ),
    number(
        "Resampled",
        &[
            field(
                "nap_ci_resampled_low",
                "lower limit with each session's own error carried along",
                "",
                SHARE,
            ),
            field(
                "nap_ci_resampled_high",
                "upper limit of the same",
                "",
                SHARE,
            ),
        ],
    ),
    number("Tau", &[field("tau", "2 NAP - 1", "", DIFFERENCE)]),
    number(
        "Tau-U",
        &[field(
            "tau_u",
            "Tau less the baseline's trend (Parker et al. 2011); it has no sampling distribution, so no interval",
            "",
            "a number",
        )],
    ),
    number(
        "d, baseline",
        &[field(
            "smd",
            "difference in standard deviations of the child's own baseline; not comparable with a group d",
            "standard deviations",
            "a number",
        )],
    ),
    number(
        "Autocorrelation",
        &[field(
            "lag1_autocorrelation",
            "whether neighbouring sessions resemble each other",
            "",
            DIFFERENCE,
        )],
    ),
];

/// The other measures of change.
pub fn measures<'a>(found: impl Iterator<Item = &'a ChangeFinding> + Clone) -> Table {
    Table {
        name: "measures",
        caption:
            "Other measures of the same changes. They take the sessions of a phase as independent."
                .to_owned(),
        columns: MEASURES.to_vec(),
        rows: found.clone().map(measure).collect(),
        notes: about(
            found,
            &["nap", "tau", "tau_u", "smd", "lag1_autocorrelation"],
        ),
    }
}

fn measure(found: &ChangeFinding) -> Vec<Cell> {
    let (exact, shown) = word_set(found.words);
    let effects = &found.effects;
    vec![
        Cell::words(&found.child),
        Cell::term(exact, shown),
        Cell::coefficient(effects.nap.estimate),
        Cell::limits(effects.nap.ci),
        Cell::limits(effects.nap.ci_resampled),
        Cell::coefficient(effects.tau.estimate),
        Cell::coefficient(effects.tau_u.estimate),
        Cell::fixed(effects.smd.estimate, 2),
        Cell::coefficient(effects.lag1_autocorrelation),
    ]
}

const RATIOS: [Column; 6] = [
    CHILD,
    WORDS,
    number(
        "Log odds ratio",
        &[field(
            "log_odds_ratio",
            "of the two means",
            "natural log",
            "a number",
        )],
    ),
    number(
        "Its interval",
        &[
            field(
                "log_odds_ratio_ci_low",
                "lower limit",
                "natural log",
                "a number",
            ),
            field(
                "log_odds_ratio_ci_high",
                "upper limit",
                "natural log",
                "a number",
            ),
        ],
    ),
    number(
        "Log response ratio",
        &[field(
            "log_response_ratio",
            "log of the later over the earlier mean",
            "natural log",
            "a number",
        )],
    ),
    number(
        "Interval of it",
        &[
            field(
                "log_response_ratio_ci_low",
                "lower limit",
                "natural log",
                "a number",
            ),
            field(
                "log_response_ratio_ci_high",
                "upper limit",
                "natural log",
                "a number",
            ),
        ],
    ),
];

/// The ratios of the two means.
pub fn ratios<'a>(found: impl Iterator<Item = &'a ChangeFinding> + Clone) -> Table {
    Table {
        name: "ratios",
        caption: "The same changes as ratios, on the scale of natural logarithms.".to_owned(),
        columns: RATIOS.to_vec(),
        rows: found.clone().map(ratio).collect(),
        notes: about(found, &["log_odds_ratio", "log_response_ratio"]),
    }
}

fn ratio(found: &ChangeFinding) -> Vec<Cell> {
    let (exact, shown) = word_set(found.words);
    let effects = &found.effects;
    vec![
        Cell::words(&found.child),
        Cell::term(exact, shown),
        Cell::coefficient(effects.log_odds_ratio.estimate),
        Cell::limits(effects.log_odds_ratio.ci),
        Cell::coefficient(effects.log_response_ratio.estimate),
        Cell::limits(effects.log_response_ratio.ci),
    ]
}

/// Why numbers of these fields are missing.
pub(super) fn about<'a>(
    found: impl Iterator<Item = &'a ChangeFinding>,
    fields: &[&str],
) -> Vec<String> {
    let said = notes(found.map(|change| (change.child.clone(), &change.reasons)));
    let speaks_of = |note: &str, field: &&str| {
        let rest = note.strip_prefix(plain(field).as_str());
        rest.is_some_and(|rest| rest.starts_with(':') || rest.starts_with(" ("))
    };
    said.into_iter()
        .filter(|note| fields.iter().any(|field| speaks_of(note, field)))
        .collect()
}
