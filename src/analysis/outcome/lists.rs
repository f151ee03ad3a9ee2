//! Probe lists: where the sessions of a comparison hold different words, the change on the words that all of them hold.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::ChangeFinding;
use super::OutcomeOptions;
use super::Words;
use super::changes;
use super::joined::Joined;
use super::joined::View;
use crate::study::Use;

/// A child whose sessions do not hold the same words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnequalLists {
    /// The child's code.
    pub child: String,
    /// Words that every session of the comparison holds.
    pub common: usize,
    /// Each of these sessions.
    pub sessions: Vec<ListOfSession>,
    /// The change on all words.
    pub difference: Option<f64>,
    /// The change on the common words alone.
    pub difference_on_common: Option<f64>,
    /// Its interval.
    pub ci_on_common: Option<[f64; 2]>,
    /// Its verdict; nothing without a common word.
    pub verdict_on_common: Option<&'static str>,
}

/// The words of a session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ListOfSession {
    /// The session.
    pub session: u32,
    /// Its words.
    pub words: usize,
    /// Its words that some other session lacks.
    pub not_common: usize,
}

/// Every child whose sessions of the two phases hold different words. Words that are not named cannot be compared.
pub(super) fn unequal(
    joined: &Joined<'_>,
    weights: &[f64],
    options: &OutcomeOptions,
    changes: &[ChangeFinding],
) -> Vec<UnequalLists> {
    let lists = lists(joined, options);
    let mut common: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for (child, sessions) in &lists {
        let mut sets = sessions.values();
        let first = sets.next().cloned().unwrap_or_default();
        if sessions.values().any(|set| *set != first) {
            let shared = sets.fold(first, |shared, set| &shared & set);
            common.insert(*child, shared);
        }
    }
    if common.is_empty() {
        return Vec::new();
    }
    let view = View::keeping(joined, Words::All, weights, |row| {
        let shared = common.get(&row.child);
        shared.is_none_or(|shared| row.word.is_some_and(|word| shared.contains(&word)))
    });
    let on_common = changes::changes(&view, options);
    let name = |child: &u32| joined.tokens.children.name(*child);
    common
        .iter()
        .filter_map(|(child, shared)| {
            let of = |all: &[ChangeFinding]| {
                let mut own = all
                    .iter()
                    .filter(|c| c.child == name(child) && c.words == Words::All);
                own.next().cloned()
            };
            let whole = of(changes)?;
            let beside = of(&on_common);
            Some(UnequalLists {
                child: name(child).to_owned(),
                common: shared.len(),
                sessions: lists
                    .get(child)?
                    .iter()
                    .map(|(session, words)| ListOfSession {
                        session: *session,
                        words: words.len(),
                        not_common: words.difference(shared).count(),
                    })
                    .collect(),
                difference: whole.difference,
                difference_on_common: beside.as_ref().and_then(|change| change.difference),
                ci_on_common: beside.as_ref().and_then(|change| change.ci),
                verdict_on_common: beside.map(|change| change.verdict),
            })
        })
        .collect()
}

/// The words of every session of the two phases, by child.
fn lists(
    joined: &Joined<'_>,
    options: &OutcomeOptions,
) -> BTreeMap<u32, BTreeMap<u32, BTreeSet<u32>>> {
    let tokens = joined.tokens;
    let compared = [
        tokens.phases.find(&options.baseline),
        tokens.phases.find(&options.treatment),
    ];
    let mut lists: BTreeMap<u32, BTreeMap<u32, BTreeSet<u32>>> = BTreeMap::new();
    for row in tokens.rows.iter().filter(|row| row.use_ == Use::Scored) {
        if let Some(word) = row.word
            && compared.contains(&Some(row.phase))
        {
            let sessions = lists.entry(row.child).or_default();
            sessions.entry(row.session).or_default().insert(word);
        }
    }
    lists
}
