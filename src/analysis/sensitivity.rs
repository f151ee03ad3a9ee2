//! Sensitivity: each change under other readings of the same judgements, so that nobody must guess what a choice did.

use serde::Serialize;

use super::ChangeFinding;
use super::Outcome;
use super::OutcomeOptions;
use super::PanelFinding;
use super::RoundTables;
use super::Words;
use super::missing::Gaps;
use super::missing::gaps;
use super::outcome::changes_alone;
use crate::study::Invalid;
use crate::study::Judgement;
use crate::study::PresentationKind;
use crate::study::Rating;
use crate::study::Ratings;
use crate::study::TokenRow;
use crate::study::TokenTable;
use crate::study::Use;
use crate::study::record::RoundRecord;

/// How the judgements are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadAs {
    /// The listeners whom the sealed rules keep, each alike: the reading that was sealed.
    Panel,
    /// Every listener, each alike.
    AllListeners,
    /// Every listener that has a weight, by it.
    Weighted,
    /// The panel's judgements of words that were not played again.
    FirstPlay,
    /// The panel on the words that every session of the comparison holds.
    CommonWords,
    /// Each word by the panel's majority; a tie counts one half.
    Majority,
    /// Every missing word correct.
    MissingCorrect,
    /// Every missing word distorted.
    MissingDistorted,
    /// Missing words correct before and distorted after.
    MissingAgainst,
    /// Missing words distorted before and correct after.
    MissingFor,
}

/// One change under one reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingFinding {
    /// The child's code.
    pub child: String,
    /// Which words count.
    pub words: Words,
    /// How the judgements are read.
    pub reading: ReadAs,
    /// Later less earlier mean.
    pub difference: Option<f64>,
    /// Its interval, as that of the panel's change.
    pub ci: Option<[f64; 2]>,
    /// The verdict by the same rule table; nothing where no interval could be had.
    pub verdict: Option<&'static str>,
    /// Whether it speaks of the child rather than of these recordings.
    pub of_the_child: bool,
    /// Whether the verdict is another than the panel's.
    pub differs: bool,
}

/// Every change of the outcome under every reading that the data allow, change by change.
///
/// The majority goes through the same formulas: each judgement of a word becomes that of its majority, and those of a word
/// on which the panel is evenly divided stay. A missing word is a word more, called alike by every listener of the panel.
pub(super) fn sensitivity(
    record: &RoundRecord,
    tables: &RoundTables,
    kept: &Ratings,
    outcome: &Outcome,
) -> Result<Vec<ReadingFinding>, Invalid> {
    let options = OutcomeOptions {
        bootstrap: 0,
        ..super::outcome_options(record)
    };
    let read = |ratings: &Ratings| changes_alone(ratings, &tables.tokens, &options);
    let mut readings = vec![(ReadAs::Panel, outcome.changes.clone())];
    if let Some(panels) = &outcome.panels {
        let changes = |found: &PanelFinding| found.changes.clone();
        readings.push((ReadAs::AllListeners, changes(&panels.all)));
        readings.extend(
            panels
                .weighted
                .as_ref()
                .map(|found| (ReadAs::Weighted, changes(found))),
        );
    }
    readings.push((ReadAs::FirstPlay, read(&first_plays(kept))?));
    readings.push((ReadAs::Majority, read(&majorities(kept))?));
    let missing = heard_gaps(record, tables, outcome);
    for (reading, before, after) in [
        (ReadAs::MissingCorrect, true, true),
        (ReadAs::MissingDistorted, false, false),
        (ReadAs::MissingAgainst, true, false),
        (ReadAs::MissingFor, false, true),
    ] {
        let sides = Sides {
            earlier: options.baseline.as_str(),
            before,
            after,
        };
        let (ratings, tokens) = filled(kept, &tables.tokens, &missing, &sides);
        let mut changes = changes_alone(&ratings, &tokens, &options)?;
        changes.retain(|change| change.words == Words::All && lacks(&missing, change));
        readings.push((reading, changes));
    }
    Ok(side_by_side(outcome, &readings))
}

/// Whether any session of that child lacks a word.
fn lacks(missing: &Gaps, change: &ChangeFinding) -> bool {
    missing.keys().any(|(child, _)| *child == change.child)
}

fn side_by_side(
    outcome: &Outcome,
    readings: &[(ReadAs, Vec<ChangeFinding>)],
) -> Vec<ReadingFinding> {
    let mut found = Vec::new();
    for sealed in &outcome.changes {
        for (reading, changes) in readings {
            let same = |change: &&ChangeFinding| {
                (&change.child, change.words) == (&sealed.child, sealed.words)
            };
            found.extend(
                changes
                    .iter()
                    .find(same)
                    .map(|change| finding(*reading, change, sealed)),
            );
            if *reading == ReadAs::FirstPlay {
                found.extend(on_common_words(outcome, sealed));
            }
        }
    }
    found
}

fn finding(reading: ReadAs, change: &ChangeFinding, sealed: &ChangeFinding) -> ReadingFinding {
    let verdict = change.ci.map(|_| change.verdict);
    ReadingFinding {
        child: change.child.clone(),
        words: change.words,
        reading,
        difference: change.difference,
        ci: change.ci,
        verdict,
        of_the_child: change.mdc95_includes_sessions,
        differs: verdict.is_some_and(|verdict| verdict != sealed.verdict),
    }
}

/// Where the lists of words differ, what the outcome found on those that all sessions hold.
fn on_common_words(outcome: &Outcome, sealed: &ChangeFinding) -> Option<ReadingFinding> {
    let unequal = outcome
        .unequal_lists
        .iter()
        .find(|lists| lists.child == sealed.child && sealed.words == Words::All)?;
    let verdict = unequal.ci_on_common.and(unequal.verdict_on_common);
    Some(ReadingFinding {
        child: sealed.child.clone(),
        words: Words::All,
        reading: ReadAs::CommonWords,
        difference: unequal.difference_on_common,
        ci: unequal.ci_on_common,
        verdict,
        of_the_child: sealed.mdc95_includes_sessions,
        differs: verdict.is_some_and(|verdict| verdict != sealed.verdict),
    })
}

fn first_plays(kept: &Ratings) -> Ratings {
    let mut ratings = kept.clone();
    ratings
        .rows
        .retain(|row| row.kind != PresentationKind::Main || row.replays == Some(0));
    ratings
}

/// Each main judgement replaced by the majority on its word.
fn majorities(kept: &Ratings) -> Ratings {
    let mut ratings = kept.clone();
    let correct = ratings.values.number(Judgement::Correct.as_str());
    let distorted = ratings.values.number(Judgement::Distorted.as_str());
    let mut margins = vec![0_i64; ratings.items.len()];
    for row in kept.of_kind(PresentationKind::Main) {
        if let Some(margin) = margins.get_mut(row.item as usize) {
            *margin += if row.value == correct { 1 } else { -1 };
        }
    }
    for row in &mut ratings.rows {
        if row.kind != PresentationKind::Main {
            continue;
        }
        match margins
            .get(row.item as usize)
            .copied()
            .unwrap_or(0)
            .signum()
        {
            1 => row.value = correct,
            -1 => row.value = distorted,
            _ => {}
        }
    }
    ratings
}

/// Missing words of the sessions that have a score.
fn heard_gaps(record: &RoundRecord, tables: &RoundTables, outcome: &Outcome) -> Gaps {
    let mut missing = gaps(record, tables);
    missing.retain(|(child, session), _| {
        outcome.sessions.iter().any(|heard| {
            heard.child == *child
                && heard.session == *session
                && heard.words == Words::All
                && heard.proportion_correct.is_some()
        })
    });
    missing
}

/// What missing words of either side are taken for.
struct Sides<'a> {
    /// The earlier phase of the contrast.
    earlier: &'a str,
    before: bool,
    after: bool,
}

/// The judgements and tokens with every missing word added, called alike by every listener who judged.
fn filled(
    kept: &Ratings,
    tokens: &TokenTable,
    missing: &Gaps,
    sides: &Sides<'_>,
) -> (Ratings, TokenTable) {
    let (mut ratings, mut table) = (kept.clone(), tokens.clone());
    let mut raters: Vec<u32> = kept
        .of_kind(PresentationKind::Main)
        .map(|row| row.rater)
        .collect();
    raters.sort_unstable();
    raters.dedup();
    for ((child, session), n) in missing {
        let Some(like) = tokens.rows.iter().find(|row| {
            row.use_ == Use::Scored
                && row.session == *session
                && tokens.children.name(row.child) == child
        }) else {
            continue;
        };
        let correct = if tokens.phases.name(like.phase) == sides.earlier {
            sides.before
        } else {
            sides.after
        };
        let said = if correct {
            Judgement::Correct
        } else {
            Judgement::Distorted
        };
        let value = ratings.values.number(said.as_str());
        for place in 0..*n {
            let name = format!("missing {child} {session} {place}");
            table.tokens.number(&name);
            table.rows.push(TokenRow {
                word: None,
                treated: None,
                ..*like
            });
            let item = ratings.items.number(&name);
            ratings
                .rows
                .extend(raters.iter().map(|rater| judged(item, *rater, value)));
        }
    }
    (ratings, table)
}

fn judged(item: u32, rater: u32, value: u32) -> Rating {
    Rating {
        item,
        rater,
        value,
        kind: PresentationKind::Main,
        order: None,
        rt_ms: None,
        replays: None,
    }
}
