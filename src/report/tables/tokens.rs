//! Tokens: what the panel says of each, those it is divided on, what is missing, and whether a room gives a phase away.

use std::collections::BTreeMap;

use super::super::number::count;
use super::super::number::exact;
use super::super::number::maybe;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::CHILD;
use super::COUNT;
use super::PHASE;
use super::SESSION;
use super::SHARE;
use super::field;
use super::number;
use super::words;
use crate::analysis::Consensus;
use crate::analysis::ItemConsensus;
use crate::study::Phase;
use crate::study::TokenRow;
use crate::study::TokenTable;
use crate::study::record::ExcludedRecord;
use crate::study::record::MissingRecord;
use crate::study::record::RoundRecord;

const COLUMNS: [Column; 10] = [
    words(
        "Token",
        &[field(
            "token",
            "name of the recording in this round",
            "",
            "T and a number",
        )],
    ),
    CHILD,
    SESSION,
    PHASE,
    words(
        "Word",
        &[field("word", "the word that was said", "", "a word")],
    ),
    number(
        "Judgements",
        &[field("judgements", "main judgements of it", "", COUNT)],
    ),
    number(
        "Heard as correct",
        &[field(
            "proportion",
            "share of them 'correct'",
            "share of 1",
            SHARE,
        )],
    ),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit of the Wilson interval",
                "share of 1",
                SHARE,
            ),
            field("ci_high", "upper limit of the same", "share of 1", SHARE),
        ],
    ),
    words(
        "Majority",
        &[field(
            "majority",
            "what more than half say",
            "",
            "correct, distorted, tie",
        )],
    ),
    number(
        "Posterior",
        &[field(
            "posterior",
            "probability that it is correct, by latent classes",
            "share of 1",
            SHARE,
        )],
    ),
];

/// What the panel says of every token.
pub fn consensus(found: &Consensus, tokens: &TokenTable) -> Table {
    Table {
        name: "consensus",
        caption: "What the panel says of each token.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.items.iter().map(|item| row(item, tokens)).collect(),
        notes: Vec::new(),
    }
}

/// The tokens on which the panel is divided, the most divided first, `most` of them.
pub fn contested(found: &Consensus, tokens: &TokenTable, most: usize) -> Table {
    let items: BTreeMap<&str, &ItemConsensus> = found
        .items
        .iter()
        .map(|item| (item.item.as_str(), item))
        .collect();
    let named = found
        .contested
        .iter()
        .filter_map(|name| items.get(name.as_str()));
    let mut notes = Vec::new();
    if found.contested.len() > most {
        notes.push(format!(
            "{} more are in consensus.csv.",
            count(found.contested.len() - most)
        ));
    }
    Table {
        name: "contested",
        caption: "Listeners disagreed: the interval of these tokens holds one half.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: named.take(most).map(|item| row(item, tokens)).collect(),
        notes,
    }
}

fn row(item: &ItemConsensus, tokens: &TokenTable) -> Vec<Cell> {
    let place = tokens.tokens.find(&item.item);
    let known = place.and_then(|place| tokens.rows.get(place as usize));
    let words = |of: &dyn Fn(&TokenRow) -> String| Cell::words(known.map(of).unwrap_or_default());
    vec![
        Cell::words(&item.item),
        words(&|row| tokens.children.name(row.child).to_owned()),
        words(&|row| row.session.to_string()),
        words(&|row| tokens.phases.name(row.phase).to_owned()),
        words(&|row| {
            row.word
                .map(|word| tokens.words.name(word).to_owned())
                .unwrap_or_default()
        }),
        Cell::count(item.judgements as usize),
        Cell::share(Some(item.proportion)),
        Cell::shares(Some(item.ci)),
        Cell::words(&item.majority),
        Cell::fixed(item.posterior, 3),
    ]
}

const MISSING: [Column; 3] = [
    PHASE,
    words(
        "Why",
        &[field(
            "reason",
            "why nobody heard them",
            "",
            "as in the manifest; or `excluded:` and a reason of excluded.csv",
        )],
    ),
    number(
        "Words",
        &[field("words", "words that nobody heard", "", COUNT)],
    ),
];

/// Words that nobody heard, by phase and reason: without a recording, or excluded before anybody
/// judged them.
pub fn missing(rows: &[MissingRecord], excluded: &[ExcludedRecord], phases: &[Phase]) -> Table {
    let mut counts: BTreeMap<(usize, &str, String), usize> = BTreeMap::new();
    let place = |phase: &str| {
        let known = phases.iter().position(|known| known.as_str() == phase);
        known.unwrap_or(phases.len())
    };
    for row in rows {
        *counts
            .entry((place(&row.phase), &row.phase, row.reason.clone()))
            .or_default() += 1;
    }
    for row in excluded {
        let why = format!("excluded: {}", row.reason);
        *counts
            .entry((place(&row.phase), &row.phase, why))
            .or_default() += 1;
    }
    Table {
        name: "missing_by_phase",
        caption: "Words of the study without a recording, or excluded before anybody judged them."
            .to_owned(),
        columns: MISSING.to_vec(),
        rows: counts
            .into_iter()
            .map(|((_, phase, reason), n)| {
                vec![
                    Cell::words(phase),
                    Cell::words(reason.as_str()),
                    Cell::count(n),
                ]
            })
            .collect(),
        notes: Vec::new(),
    }
}

const SET_ASIDE: [Column; 3] = [
    words(
        "Phase",
        &[field(
            "phase",
            "phase of the token's session",
            "",
            "a phase of the study; empty: none",
        )],
    ),
    words(
        "Why",
        &[field(
            "reason",
            "what the listener said; cut-short: its sound broke off each time",
            "",
            "noise, another-word, no-sound, known-speaker, cut-short",
        )],
    ),
    number(
        "Presentations",
        &[field(
            "presentations",
            "presentations set aside, judged by nobody as distorted",
            "",
            COUNT,
        )],
    ),
];

/// Presentations that a listener could not judge, or could not hear to the end, by phase and reason.
pub fn set_aside(record: &RoundRecord, tokens: &TokenTable) -> Table {
    let mut counts: BTreeMap<(u32, String, String), usize> = BTreeMap::new();
    for row in &record.presentations {
        let Some(reason) = row.aside else { continue };
        let known = tokens
            .tokens
            .find(&row.token)
            .and_then(|place| tokens.rows.get(place as usize));
        let (place, phase) = known.map_or((u32::MAX, String::new()), |known| {
            (known.phase, tokens.phases.name(known.phase).to_owned())
        });
        *counts
            .entry((place, phase, reason.to_string()))
            .or_default() += 1;
    }
    Table {
        name: "set_aside_by_phase",
        caption: "Presentations that a listener could not judge.".to_owned(),
        columns: SET_ASIDE.to_vec(),
        rows: counts
            .into_iter()
            .map(|((_, phase, reason), n)| {
                vec![Cell::words(phase), Cell::words(reason), Cell::count(n)]
            })
            .collect(),
        notes: Vec::new(),
    }
}

const RECORDINGS: [Column; 6] = [
    PHASE,
    number(
        "Tokens",
        &[field("tokens", "tokens that were played", "", COUNT)],
    ),
    number(
        "Length, s",
        &[field(
            "median_seconds",
            "middle length of the prepared audio",
            "s",
            "above 0",
        )],
    ),
    number(
        "Speech over noise, dB",
        &[field(
            "median_snr_db",
            "middle ratio of speech to noise",
            "dB",
            "a number",
        )],
    ),
    number(
        "Bandwidth, kHz",
        &[field(
            "median_bandwidth_hz",
            "middle bandwidth",
            "Hz",
            "above 0",
        )],
    ),
    number(
        "With a remark",
        &[field(
            "remarked",
            "tokens with a remark on their quality",
            "",
            COUNT,
        )],
    ),
];

/// The recordings of each phase: where they differ, the room could tell a listener what the phase is.
pub fn recordings(record: &RoundRecord, tokens: &TokenTable) -> Table {
    let mut by_phase: BTreeMap<u32, Vec<&crate::study::record::TokenRecord>> = BTreeMap::new();
    for token in &record.tokens {
        let place = tokens.tokens.find(&token.name);
        if let Some(known) = place.and_then(|place| tokens.rows.get(place as usize)) {
            by_phase.entry(known.phase).or_default().push(token);
        }
    }
    let rows = by_phase.into_iter().map(|(phase, of)| {
        let bandwidth = median(of.iter().map(|token| token.bandwidth_hz));
        vec![
            Cell::words(tokens.phases.name(phase)),
            Cell::count(of.len()),
            Cell::fixed(median(of.iter().map(|token| token.seconds)), 2),
            Cell::fixed(median(of.iter().filter_map(|token| token.snr_db)), 1),
            Cell {
                shown: maybe_khz(bandwidth),
                exact: vec![exact(bandwidth)],
            },
            Cell::count(of.iter().filter(|token| !token.marks.is_empty()).count()),
        ]
    });
    Table {
        name: "recordings_by_phase",
        caption: "The recordings by phase.".to_owned(),
        columns: RECORDINGS.to_vec(),
        rows: rows.collect(),
        notes: vec![
            "Where phases differ here, listeners may have heard the room and not the child."
                .to_owned(),
        ],
    }
}

fn maybe_khz(hz: Option<f64>) -> String {
    maybe(hz.map(|hz| hz / 1000.0), 1)
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let upper = *sorted.get(middle)?;
    if sorted.len().is_multiple_of(2) {
        Some(f64::midpoint(*sorted.get(middle - 1)?, upper))
    } else {
        Some(upper)
    }
}
