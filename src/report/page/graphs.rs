//! From findings to charts: a child's sessions as series, the means of the contrast as levels, the peers as a band.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::super::chart::Band;
use super::super::chart::Graph;
use super::super::chart::Level;
use super::super::chart::Mark;
use super::super::chart::Series;
use super::super::chart::Session;
use super::super::chart::Symbol;
use super::super::number::counted;
use super::super::number::percent;
use super::super::number::percent_limits;
use crate::analysis::ChangeFinding;
use crate::analysis::Outcome;
use crate::analysis::SessionFinding;
use crate::analysis::Words;
use crate::study::TokenTable;

/// Days since the first recording of the study, by child and session.
#[derive(Debug, Clone, Default)]
pub(in crate::report) struct Days(BTreeMap<(String, u32), u32>);

impl Days {
    /// Of every session whose date is known.
    pub(in crate::report) fn of(tokens: &TokenTable) -> Self {
        let dated = || tokens.rows.iter().filter_map(|row| Some((row, row.date?)));
        let Some(first) = dated().map(|(_, date)| date).min() else {
            return Self::default();
        };
        let days = dated().filter_map(|(row, date)| {
            let days = (date - first).get_days();
            let child = tokens.children.name(row.child).to_owned();
            Some(((child, row.session), u32::try_from(days).ok()?))
        });
        Self(days.collect())
    }

    pub(super) fn get(&self, child: &str, session: u32) -> Option<u32> {
        self.0.get(&(child.to_owned(), session)).copied()
    }
}

/// One child's graph: sessions under two ways of treating apart, else treated and untreated words apart where both are
/// marked, else all words with their means.
pub(in crate::report) fn graph(
    outcome: &Outcome,
    child: &str,
    beside: Option<String>,
    days: &Days,
) -> Graph {
    let of = |words: Words| -> Vec<&SessionFinding> {
        let mine = outcome.sessions.iter().filter(|s| s.child == child);
        mine.filter(|s| s.words == words).collect()
    };
    let all = of(Words::All);
    let apart = [
        ("treated words", Symbol::Disc, of(Words::Treated)),
        ("untreated words", Symbol::Square, of(Words::Untreated)),
    ];
    let both = apart.iter().all(|(_, _, found)| has_values(found));
    let ways = ways(all.iter().map(|found| found.condition.as_deref()));
    let alternates = ways.len() > 1;
    let series: Vec<Series> = if alternates {
        under_ways(&series("all words", Symbol::Disc, &all, &all), &ways)
    } else if both {
        apart
            .iter()
            .map(|(label, symbol, found)| series(label, *symbol, &all, found))
            .collect()
    } else {
        vec![series("all words", Symbol::Disc, &all, &all)]
    };
    let change = outcome
        .changes
        .iter()
        .find(|change| change.child == child && change.words == Words::All);
    Graph {
        child: child.to_owned(),
        beside,
        sessions: all
            .iter()
            .map(|found| Session {
                number: found.session,
                phase: found.phase.clone(),
                day: days.get(child, found.session),
            })
            .collect(),
        series,
        levels: change
            .filter(|_| !both && !alternates)
            .map(|change| levels(change, &all))
            .unwrap_or_default(),
    }
}

/// The way of treating of each session, where there are two; else nothing.
pub(super) fn ways<'s>(conditions: impl Iterator<Item = Option<&'s str>>) -> Vec<Option<&'s str>> {
    let ways: Vec<_> = conditions.collect();
    let known: BTreeSet<&str> = ways.iter().flatten().copied().collect();
    if known.len() == 2 { ways } else { Vec::new() }
}

/// A series of sessions under two ways of treating as two, each on a path of its own. Sessions under neither stay with the
/// first: they are of another phase.
pub(super) fn under_ways(series: &Series, ways: &[Option<&str>]) -> Vec<Series> {
    let mut known: Vec<&str> = Vec::new();
    for way in ways.iter().flatten() {
        if !known.contains(way) {
            known.push(way);
        }
    }
    let first = known.first().copied();
    let shapes = [Symbol::Disc, Symbol::Square];
    known
        .iter()
        .zip(shapes)
        .map(|(way, symbol)| {
            let of_others: Vec<bool> = ways.iter().map(|own| own.or(first) != Some(way)).collect();
            let marks = series.marks.iter().zip(&of_others);
            Series {
                label: (*way).to_owned(),
                symbol,
                marks: marks
                    .map(|(mark, others)| mark.clone().filter(|_| !others))
                    .collect(),
                of_others,
            }
        })
        .collect()
}

fn has_values(found: &[&SessionFinding]) -> bool {
    found.iter().any(|s| s.proportion_correct.is_some())
}

fn series(
    label: &str,
    symbol: Symbol,
    all: &[&SessionFinding],
    found: &[&SessionFinding],
) -> Series {
    let mark_of = |session: &&SessionFinding| {
        let found = found.iter().find(|s| s.session == session.session)?;
        let share = found.proportion_correct?;
        Some(Mark {
            share,
            ci: found.ci,
            said: point_in_words(found, share),
        })
    };
    Series {
        label: label.to_owned(),
        symbol,
        marks: all.iter().map(mark_of).collect(),
        of_others: Vec::new(),
    }
}

fn point_in_words(found: &SessionFinding, share: f64) -> String {
    let words = match found.words {
        Words::All => "",
        Words::Treated => ", treated words",
        Words::Untreated => ", untreated words",
    };
    let way = found
        .condition
        .as_ref()
        .map_or_else(String::new, |way| format!(", {way}"));
    let interval = found.ci.map_or_else(
        || "no interval".to_owned(),
        |ci| format!("interval {}", percent_limits(Some(ci))),
    );
    format!(
        "Session {}, {}{way}{words}: {} heard as correct, {interval}; {}, {}",
        found.session,
        found.phase,
        percent(share),
        counted(found.tokens, "token"),
        counted(found.judgements, "judgement"),
    )
}

/// The means of both sides, over the sessions that count.
fn levels(change: &ChangeFinding, all: &[&SessionFinding]) -> Vec<Level> {
    let side = |phase: &str, count: usize, mean: Option<f64>| {
        let heard: Vec<u32> = all
            .iter()
            .filter(|s| s.phase == phase && s.proportion_correct.is_some())
            .map(|s| s.session)
            .collect();
        let counting = heard.get(heard.len().checked_sub(count)?..)?;
        let share = mean?;
        let which = if counting.len() < heard.len() {
            format!("mean of last {}: {}", counting.len(), percent(share))
        } else {
            format!("mean {}", percent(share))
        };
        Some(Level {
            phase: phase.to_owned(),
            first: *counting.first()?,
            last: *counting.last()?,
            share,
            said: which,
        })
    };
    [
        side(&change.from, change.sessions_from, change.mean_from),
        side(&change.to, change.sessions_to, change.mean_to),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Where the peers' sessions lie, from the lowest to the highest.
pub(in crate::report) fn band(outcome: &Outcome) -> Option<Band> {
    let peers = outcome.sessions.iter();
    let shares = peers
        .filter(|s| s.peer && s.words == Words::All)
        .filter_map(|s| s.proportion_correct);
    band_of(shares.collect())
}

/// The same of the peers' shares on any one scale.
pub(in crate::report) fn band_of(mut shares: Vec<f64>) -> Option<Band> {
    shares.sort_by(f64::total_cmp);
    let (low, high) = (*shares.first()?, *shares.last()?);
    let label = if percent(low) == percent(high) {
        format!("peers {}", percent(low))
    } else {
        format!("peers {} to {}", percent(low), percent(high))
    };
    Some(Band { low, high, label })
}
