//! The design held against published rules for single cases: what it can carry, never a mark of the therapy.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Agreement;
use super::Outcome;
use super::RoundsFinding;
use super::Words;
use crate::study::Phase;
use crate::study::PresentationKind;
use crate::study::Ratings;
use crate::study::StudySettings;
use crate::study::TokenTable;
use crate::study::Use;
use crate::study::plan::Contrast;
use crate::study::record::RoundRecord;

/// Whether a design meets a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Met {
    /// It meets the rule.
    Meets,
    /// It meets the weaker form of the rule.
    WithReservations,
    /// It does not meet the rule.
    DoesNotMeet,
}

/// One rule held against one child, or against the study.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DesignCheck {
    /// The child; nothing: the study.
    pub child: Option<String>,
    /// What is looked at.
    pub rule: &'static str,
    /// What this study has.
    pub found: String,
    /// Whether that is enough.
    pub met: Met,
    /// From when on it is, and who says so.
    pub source: &'static str,
}

pub(super) const POINTS_RULE: &str = "Points in each phase";
pub(super) const STARTS_RULE: &str = "Staggered starts";

const POINTS: &str = "Five points or more in each phase meet it, three or four with reservations (What Works Clearinghouse, single-case standards 4.0).";
const STARTS: &str = "Treatment begins at three different times or more, over six phases in all (What Works Clearinghouse, single-case standards 4.0: three demonstrations at three points in time).";
const COLLECTED: &str = "In each phase at least a fifth of the words were judged by two listeners or more (What Works Clearinghouse, single-case standards 4.0).";
const HIGH: &str = "In each phase the percent agreement is .80 or more, or kappa .60 or more (What Works Clearinghouse, single-case standards 4.0).";

/// The share of words that two listeners must have judged.
const COLLECTED_SHARE: f64 = 0.2;
const HIGH_PERCENT: f64 = 0.8;
const HIGH_KAPPA: f64 = 0.6;

/// A judged session of a treated child.
pub(super) struct Point {
    child: String,
    session: u32,
    phase: String,
    /// Days since the first recording, where the dates are known.
    day: Option<i64>,
}

/// The sessions that this round judged.
pub(super) fn own_points(record: &RoundRecord, outcome: &Outcome) -> Vec<Point> {
    let dated = || {
        record.tokens.iter().filter_map(|token| {
            let key = &token.key;
            Some(((key.child.as_ref()?.as_str(), key.session?), key.date?))
        })
    };
    let first = dated().map(|(_, date)| date).min();
    let days: BTreeMap<(&str, u32), i64> = dated()
        .filter_map(|(session, date)| Some((session, i64::from((date - first?).get_days()))))
        .collect();
    let judged = outcome.sessions.iter().filter(|session| {
        !session.peer && session.words == Words::All && session.proportion_correct.is_some()
    });
    judged
        .map(|session| Point {
            child: session.child.clone(),
            session: session.session,
            phase: session.phase.clone(),
            day: days
                .get(&(session.child.as_str(), session.session))
                .copied(),
        })
        .collect()
}

/// The sessions of all rounds that stand on one scale.
pub(super) fn points_over_rounds(rounds: &RoundsFinding) -> Vec<Point> {
    let judged = rounds.sessions.iter().filter(|session| !session.peer);
    judged
        .map(|session| Point {
            child: session.child.clone(),
            session: session.session,
            phase: session.phase.clone(),
            day: session.day.map(i64::from),
        })
        .collect()
}

/// What the points of a comparison carry: starts for the study, points for each child.
pub(super) fn timing(contrast: &Contrast, points: &[Point]) -> Vec<DesignCheck> {
    let phases = [contrast.from.as_str(), contrast.to.as_str()];
    let children: BTreeSet<&str> = points.iter().map(|point| point.child.as_str()).collect();
    let mut checks = vec![starts(points, &phases)];
    checks.extend(
        children
            .into_iter()
            .map(|child| enough(points, child, &phases)),
    );
    checks
}

/// What the agreement carries, in every phase that this round heard.
pub(super) fn agreed(
    settings: &StudySettings,
    tokens: &TokenTable,
    kept: &Ratings,
    agreement: &Agreement,
) -> Vec<DesignCheck> {
    let twice = judged_twice(tokens, kept);
    let heard = |phase: &&str| twice.keys().any(|(_, of)| of == phase);
    let phases = settings.phases.iter().map(Phase::as_str);
    let phases: Vec<&str> = phases.filter(heard).collect();
    let children: BTreeSet<&str> = twice.keys().map(|(child, _)| child.as_str()).collect();
    let mut checks = vec![agreement_is_high(agreement, &phases)];
    let of_children = children.into_iter();
    checks.extend(of_children.map(|child| agreement_is_collected(&twice, child, &phases)));
    checks
}

/// The study's rules first, then child by child.
pub(super) fn in_order(mut checks: Vec<DesignCheck>) -> Vec<DesignCheck> {
    checks.sort_by(|a, b| (&a.child, a.rule).cmp(&(&b.child, b.rule)));
    checks
}

/// The verdict of several rules: that of the one that is met least.
pub fn least_met<'a>(checks: impl Iterator<Item = &'a DesignCheck>) -> Option<Met> {
    checks.map(|check| check.met).max()
}

fn enough(points: &[Point], child: &str, phases: &[&str; 2]) -> DesignCheck {
    let counts = phases.map(|phase| {
        let own = points.iter();
        own.filter(|point| point.child == child && point.phase == phase)
            .count()
    });
    let fewest = counts.into_iter().min().unwrap_or(0);
    DesignCheck {
        child: Some(child.to_owned()),
        rule: POINTS_RULE,
        found: format!(
            "{} in {}, {} in {}",
            counts[0], phases[0], counts[1], phases[1]
        ),
        met: match fewest {
            0..=2 => Met::DoesNotMeet,
            3 | 4 => Met::WithReservations,
            _ => Met::Meets,
        },
        source: POINTS,
    }
}

/// The start of treatment of each child: its first day where every session has one, else the number of its first session.
fn starts(points: &[Point], phases: &[&str; 2]) -> DesignCheck {
    let dated = points.iter().all(|point| point.day.is_some());
    let begins = |child: &str| {
        let own = || points.iter().filter(move |point| point.child == child);
        let treated = own().filter(|point| point.phase == phases[1]);
        own().any(|point| point.phase == phases[0]).then(|| {
            let start = treated.map(|point| (point.day.filter(|_| dated), point.session));
            start.min_by_key(|(day, session)| (*day, *session))
        })?
    };
    let children: BTreeSet<&str> = points.iter().map(|point| point.child.as_str()).collect();
    let begun: Vec<_> = children.into_iter().filter_map(begins).collect();
    let starts: BTreeSet<_> = begun
        .iter()
        .map(|(day, session)| day.unwrap_or(i64::from(*session)))
        .collect();
    let (children, n) = (begun.len(), starts.len());
    DesignCheck {
        child: None,
        rule: STARTS_RULE,
        found: format!(
            "{children} {} with both phases; treatment began {}{}",
            if children == 1 { "child" } else { "children" },
            match n {
                0 => "for none".to_owned(),
                1 => "at one time".to_owned(),
                _ => format!("at {n} different times"),
            },
            if dated {
                ""
            } else {
                ", counted in sessions: not every one has a date"
            }
        ),
        met: if n >= 3 { Met::Meets } else { Met::DoesNotMeet },
        source: STARTS,
    }
}

/// Words, and words that two of the panel judged, by child and phase.
type Twice = BTreeMap<(String, String), [usize; 2]>;

fn judged_twice(tokens: &TokenTable, kept: &Ratings) -> Twice {
    let mut heard: BTreeMap<u32, usize> = BTreeMap::new();
    for row in kept.of_kind(PresentationKind::Main) {
        if let Some(token) = tokens.tokens.find(kept.items.name(row.item)) {
            *heard.entry(token).or_default() += 1;
        }
    }
    let mut twice = Twice::new();
    for (number, row) in (0..).zip(&tokens.rows) {
        if row.use_ != Use::Scored {
            continue;
        }
        let place = (
            tokens.children.name(row.child).to_owned(),
            tokens.phases.name(row.phase).to_owned(),
        );
        let counts = twice.entry(place).or_insert([0, 0]);
        counts[0] += 1;
        counts[1] += usize::from(heard.get(&number).is_some_and(|n| *n >= 2));
    }
    twice
}

fn agreement_is_collected(twice: &Twice, child: &str, phases: &[&str]) -> DesignCheck {
    let shares: Vec<(&str, f64)> = phases
        .iter()
        .filter_map(|phase| {
            let [words, twice] = twice.get(&(child.to_owned(), (*phase).to_owned()))?;
            Some((*phase, *twice as f64 / (*words).max(1) as f64))
        })
        .collect();
    let enough = shares.iter().all(|(_, share)| *share >= COLLECTED_SHARE);
    let said = shares
        .iter()
        .map(|(phase, share)| format!("{}% of words in {phase}", (share * 100.0).round()));
    DesignCheck {
        child: Some(child.to_owned()),
        rule: "Agreement collected in each phase",
        found: said.collect::<Vec<_>>().join(", "),
        met: if enough { Met::Meets } else { Met::DoesNotMeet },
        source: COLLECTED,
    }
}

fn agreement_is_high(agreement: &Agreement, phases: &[&str]) -> DesignCheck {
    let of = |phase: &str| {
        let found = agreement.by_phase.as_ref()?.get(phase)?;
        let percent = found.percent_agreement.estimate?;
        Some((percent, found.fleiss_kappa.estimate))
    };
    let found: Vec<_> = phases.iter().map(|phase| (*phase, of(phase))).collect();
    let enough = found.iter().all(|(_, one)| {
        one.is_some_and(|(percent, kappa)| {
            percent >= HIGH_PERCENT || kappa.is_some_and(|kappa| kappa >= HIGH_KAPPA)
        })
    });
    let said = found.iter().map(|(phase, found)| match found {
        None => format!("none in {phase}"),
        Some((percent, None)) => format!("{percent:.2} in {phase}"),
        Some((percent, Some(kappa))) => format!("{percent:.2}, kappa {kappa:.2} in {phase}"),
    });
    DesignCheck {
        child: None,
        rule: "Agreement in each phase",
        found: said.collect::<Vec<_>>().join("; "),
        met: if enough { Met::Meets } else { Met::DoesNotMeet },
        source: HIGH,
    }
}
