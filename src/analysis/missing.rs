//! What is missing, by phase, and how far it could move a change: all of it correct, all of it distorted.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Outcome;
use super::RoundTables;
use super::Words;
use crate::study::PresentationKind;
use crate::study::record::RoundRecord;

/// What is missing of a round.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Completeness {
    /// Each phase in which words were to be judged, in the order of the study.
    pub phases: Vec<PhaseCompleteness>,
    /// How far the missing words could move each child's change.
    pub bounds: Vec<MissingBound>,
}

/// Words of one phase; peers are left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhaseCompleteness {
    /// The phase.
    pub phase: String,
    /// Words with at least one judgement.
    pub judged: usize,
    /// Words that were played and that nobody judged: set aside, or never reached.
    pub unjudged: usize,
    /// Presentations of this phase's words that were set aside, by reason.
    pub set_aside: BTreeMap<String, usize>,
    /// Words without a recording, by reason.
    pub not_recorded: BTreeMap<String, usize>,
}

/// How far missing words could move a child's change on all words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MissingBound {
    /// The child's code.
    pub child: String,
    /// Missing words of the earlier sessions that count.
    pub missing_from: usize,
    /// Missing words of the later ones.
    pub missing_to: usize,
    /// The change as it was found.
    pub difference: f64,
    /// With every missing word correct.
    pub all_correct: f64,
    /// With every missing word distorted.
    pub all_distorted: f64,
    /// Missing words correct before and distorted after: the least that the change could be.
    pub lowest: f64,
    /// The other way round: the most.
    pub highest: f64,
}

/// Counts what is missing.
pub(super) fn completeness(
    record: &RoundRecord,
    tables: &RoundTables,
    outcome: &Outcome,
) -> Completeness {
    let judged = judged(tables);
    let tokens = &tables.tokens;
    let mut by_phase: BTreeMap<&str, PhaseCompleteness> = BTreeMap::new();
    let scored: BTreeMap<&str, &str> = tokens
        .tokens
        .names()
        .iter()
        .zip(&tokens.rows)
        .filter(|(_, row)| row.use_ == crate::study::Use::Scored)
        .map(|(name, row)| {
            let phase = tokens.phases.name(row.phase);
            let counts = by_phase
                .entry(phase)
                .or_insert_with(|| PhaseCompleteness::none(phase));
            if judged.contains(name.as_str()) {
                counts.judged += 1;
            } else {
                counts.unjudged += 1;
            }
            (name.as_str(), phase)
        })
        .collect();
    for row in &record.presentations {
        if let (Some(reason), Some(phase)) = (row.aside, scored.get(row.token.as_str()))
            && row.kind == PresentationKind::Main
            && let Some(counts) = by_phase.get_mut(phase)
        {
            *counts.set_aside.entry(reason.to_string()).or_default() += 1;
        }
    }
    for missing in played_sessions(record, tables) {
        let phase = missing.phase.as_str();
        if let Some(counts) = by_phase.get_mut(phase) {
            *counts
                .not_recorded
                .entry(missing.reason.clone())
                .or_default() += 1;
        }
    }
    let order = |phase: &str| {
        record
            .settings
            .phases
            .iter()
            .position(|p| p.as_str() == phase)
    };
    let mut phases: Vec<PhaseCompleteness> = by_phase.into_values().collect();
    phases.sort_by_key(|counts| order(&counts.phase));
    Completeness {
        phases,
        bounds: bounds(record, outcome, &gaps(record, tables)),
    }
}

/// Missing words by child and session.
pub(super) type Gaps = BTreeMap<(String, u32), usize>;

/// Words that nobody judged and words without a recording, by child and session.
pub(super) fn gaps(record: &RoundRecord, tables: &RoundTables) -> Gaps {
    let (judged, tokens) = (judged(tables), &tables.tokens);
    let unjudged = tokens
        .tokens
        .names()
        .iter()
        .zip(&tokens.rows)
        .filter(|(name, row)| {
            row.use_ == crate::study::Use::Scored && !judged.contains(name.as_str())
        })
        .map(|(_, row)| (tokens.children.name(row.child).to_owned(), row.session));
    let not_recorded =
        played_sessions(record, tables).map(|missing| (missing.child.clone(), missing.session));
    let mut gaps = Gaps::new();
    for session in unjudged.chain(not_recorded) {
        *gaps.entry(session).or_default() += 1;
    }
    gaps
}

/// Tokens with at least one main judgement.
fn judged(tables: &RoundTables) -> BTreeSet<&str> {
    let ratings = &tables.ratings;
    ratings
        .of_kind(PresentationKind::Main)
        .map(|rating| ratings.items.name(rating.item))
        .collect()
}

impl PhaseCompleteness {
    fn none(phase: &str) -> Self {
        Self {
            phase: phase.to_owned(),
            judged: 0,
            unjudged: 0,
            set_aside: BTreeMap::new(),
            not_recorded: BTreeMap::new(),
        }
    }
}

/// The missing rows of sessions of which this round played anything.
fn played_sessions<'r>(
    record: &'r RoundRecord,
    tables: &RoundTables,
) -> impl Iterator<Item = &'r crate::study::record::MissingRecord> {
    let tokens = &tables.tokens;
    let played: BTreeSet<(String, u32)> = tokens
        .rows
        .iter()
        .filter(|row| row.use_ == crate::study::Use::Scored)
        .map(|row| (tokens.children.name(row.child).to_owned(), row.session))
        .collect();
    record
        .missing
        .iter()
        .filter(move |row| played.contains(&(row.child.clone(), row.session)))
}

/// A session of T words judged with mean p and m missing lies from pT/(T + m) to (pT + m)/(T + m).
fn bounds(record: &RoundRecord, outcome: &Outcome, gaps: &Gaps) -> Vec<MissingBound> {
    let contrast = &record.plan.contrast;
    let whole = outcome
        .changes
        .iter()
        .filter(|change| change.words == Words::All);
    whole
        .filter_map(|change| {
            let side = |phase: &str, last: Option<u32>| {
                let own = outcome.sessions.iter().filter(|s| {
                    s.child == change.child && s.words == Words::All && s.phase == phase
                });
                let sessions: Vec<(f64, f64, usize)> = own
                    .filter_map(|s| {
                        let missing = gaps
                            .get(&(s.child.clone(), s.session))
                            .copied()
                            .unwrap_or(0);
                        Some((s.proportion_correct?, s.tokens as f64, missing))
                    })
                    .collect();
                let skipped = last.map_or(0, |last| sessions.len().saturating_sub(last as usize));
                let counting = sessions.get(skipped..).unwrap_or_default();
                let n = counting.len() as f64;
                let mean = |share_of_missing: f64| {
                    let with = counting.iter().map(|(p, tokens, missing)| {
                        (p * tokens + share_of_missing * *missing as f64)
                            / (tokens + *missing as f64)
                    });
                    with.sum::<f64>() / n
                };
                let missing: usize = counting.iter().map(|(.., missing)| missing).sum();
                (missing, mean(0.0), mean(1.0))
            };
            let (missing_from, low_from, high_from) = side(contrast.from.as_str(), None);
            let (missing_to, low_to, high_to) = side(contrast.to.as_str(), contrast.last);
            (missing_from + missing_to > 0).then_some(MissingBound {
                child: change.child.clone(),
                missing_from,
                missing_to,
                difference: change.difference?,
                all_correct: high_to - high_from,
                all_distorted: low_to - low_from,
                lowest: low_to - high_from,
                highest: high_to - low_from,
            })
        })
        .collect()
}
