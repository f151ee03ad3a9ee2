//! The design held against published rules for single cases: what it can carry, never a mark of the therapy.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Agreement;
use super::Outcome;
use super::Words;
use crate::study::PresentationKind;
use crate::study::Ratings;
use crate::study::TokenTable;
use crate::study::Use;
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

const POINTS: &str = "Five points or more in each phase meet it, three or four with reservations (What Works Clearinghouse, single-case standards 4.0).";
const STARTS: &str = "Treatment begins at three different times or more, over six phases in all (What Works Clearinghouse, single-case standards 4.0: three demonstrations at three points in time).";
const COLLECTED: &str = "In each phase at least a fifth of the words were judged by two listeners or more (What Works Clearinghouse, single-case standards 4.0).";
const HIGH: &str = "In each phase the percent agreement is .80 or more, or kappa .60 or more (What Works Clearinghouse, single-case standards 4.0).";

/// The share of words that two listeners must have judged.
const COLLECTED_SHARE: f64 = 0.2;
const HIGH_PERCENT: f64 = 0.8;
const HIGH_KAPPA: f64 = 0.6;

/// The study's rules first, then each child's.
pub(super) fn design(
    record: &RoundRecord,
    tokens: &TokenTable,
    kept: &Ratings,
    outcome: &Outcome,
    agreement: &Agreement,
) -> Vec<DesignCheck> {
    let contrast = &record.plan.contrast;
    let phases = [contrast.from.as_str(), contrast.to.as_str()];
    let mut checks = vec![starts(record), agreement_is_high(agreement, &phases)];
    let twice = judged_twice(tokens, kept);
    let mut children: Vec<&str> = tokens
        .rows
        .iter()
        .filter(|row| row.use_ == Use::Scored)
        .map(|row| tokens.children.name(row.child))
        .collect();
    children.sort_unstable();
    children.dedup();
    for child in children {
        checks.push(points(outcome, child, &phases));
        checks.push(agreement_is_collected(&twice, child, &phases));
    }
    checks
}

/// The verdict of several rules: that of the one that is met least.
pub fn least_met<'a>(checks: impl Iterator<Item = &'a DesignCheck>) -> Option<Met> {
    checks.map(|check| check.met).max()
}

fn points(outcome: &Outcome, child: &str, phases: &[&str; 2]) -> DesignCheck {
    let counts = phases.map(|phase| {
        let sessions = outcome.sessions.iter();
        sessions
            .filter(|s| s.child == child && s.phase == phase && s.words == Words::All)
            .filter(|s| s.proportion_correct.is_some())
            .count()
    });
    let fewest = counts.into_iter().min().unwrap_or(0);
    DesignCheck {
        child: Some(child.to_owned()),
        rule: "Points in each phase",
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
fn starts(record: &RoundRecord) -> DesignCheck {
    let contrast = &record.plan.contrast;
    let scored = || {
        let tokens = record.tokens.iter();
        tokens.filter(|token| token.key.use_ == Use::Scored && !token.link)
    };
    let dated = scored().all(|token| token.key.date.is_some());
    let mut first = BTreeMap::new();
    let mut before = BTreeSet::new();
    for token in scored() {
        let key = &token.key;
        let (Some(child), Some(session)) = (&key.child, key.session) else {
            continue;
        };
        if key.phase.as_ref() == Some(&contrast.from) {
            before.insert(child);
        }
        if key.phase.as_ref() == Some(&contrast.to) {
            let start = (key.date.filter(|_| dated), if dated { 0 } else { session });
            first
                .entry(child)
                .and_modify(|known| *known = start.min(*known))
                .or_insert(start);
        }
    }
    let starts: BTreeSet<_> = first
        .iter()
        .filter(|(child, _)| before.contains(*child))
        .map(|(_, start)| start)
        .collect();
    let n = starts.len();
    let children = first.keys().filter(|child| before.contains(*child)).count();
    DesignCheck {
        child: None,
        rule: "Staggered starts",
        found: format!(
            "{children} {} with both phases, whose treatment began at {n} different {}",
            if children == 1 { "child" } else { "children" },
            match (n, dated) {
                (1, _) => "time",
                (_, true) => "times",
                (_, false) => "sessions (not every session has a date)",
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

fn agreement_is_collected(twice: &Twice, child: &str, phases: &[&str; 2]) -> DesignCheck {
    let shares = phases.map(|phase| {
        let counts = twice.get(&(child.to_owned(), phase.to_owned()));
        counts.map_or(0.0, |[words, twice]| *twice as f64 / (*words).max(1) as f64)
    });
    let enough = shares.iter().all(|share| *share >= COLLECTED_SHARE);
    DesignCheck {
        child: Some(child.to_owned()),
        rule: "Agreement collected in each phase",
        found: format!(
            "{}% of words in {}, {}% in {}",
            (shares[0] * 100.0).round(),
            phases[0],
            (shares[1] * 100.0).round(),
            phases[1]
        ),
        met: if enough { Met::Meets } else { Met::DoesNotMeet },
        source: COLLECTED,
    }
}

fn agreement_is_high(agreement: &Agreement, phases: &[&str; 2]) -> DesignCheck {
    let of = |phase: &str| {
        let found = agreement.by_phase.as_ref()?.get(phase)?;
        Some((
            found.percent_agreement.estimate?,
            found.fleiss_kappa.estimate,
        ))
    };
    let found = phases.map(of);
    let enough = found.iter().all(|one| {
        one.is_some_and(|(percent, kappa)| {
            percent >= HIGH_PERCENT || kappa.is_some_and(|kappa| kappa >= HIGH_KAPPA)
        })
    });
    let said = phases.iter().zip(found).map(|(phase, found)| {
        let Some((percent, kappa)) = found else {
            return format!("none in {phase}");
        };
        let kappa = kappa.map_or_else(
            || "no kappa".to_owned(),
            |kappa| format!("kappa {kappa:.2}"),
        );
        format!("{percent:.2}, {kappa} in {phase}")
    });
    DesignCheck {
        child: None,
        rule: "Agreement in each phase",
        found: said.collect::<Vec<_>>().join("; "),
        met: if enough { Met::Meets } else { Met::DoesNotMeet },
        source: HIGH,
    }
}
