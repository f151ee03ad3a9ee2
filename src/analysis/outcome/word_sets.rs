//! Two ways of treating that are carried by sets of words within a child: the change of the words under one beside that of
//! the words under the other.

use std::collections::BTreeMap;

use serde::Serialize;

use super::OutcomeOptions;
use super::changes::ENOUGH_SESSIONS;
use super::changes::judged_sessions;
use super::joined::Joined;
use super::joined::View;
use crate::analysis::Reasons;
use crate::stats::interval::ChangeInterval;
use crate::stats::interval::IntervalError;
use crate::stats::interval::Reading;
use crate::stats::interval::between_changes;
use crate::study::TokenRow;

/// A child's change on the words under each of two conditions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WordSetsFinding {
    /// The child's code.
    pub child: String,
    /// The first condition.
    pub from: String,
    /// The second.
    pub to: String,
    /// The change of the words under the first.
    pub change_from: Option<f64>,
    /// Its interval.
    pub change_from_ci: Option<[f64; 2]>,
    /// The change of the words under the second.
    pub change_to: Option<f64>,
    /// Its interval.
    pub change_to_ci: Option<[f64; 2]>,
    /// Second change less first.
    pub difference: Option<f64>,
    /// Its interval, as if nothing but the child were common to the two: rather too wide than too narrow.
    pub ci: Option<[f64; 2]>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// What was drawn: the two conditions, the words of each set, and for each child the condition of each set.
pub(super) struct SetsDrawn<'a> {
    pub(super) conditions: [&'a str; 2],
    pub(super) sets: &'a BTreeMap<String, Vec<String>>,
    pub(super) cases: &'a BTreeMap<String, BTreeMap<String, String>>,
}

impl SetsDrawn<'_> {
    /// Whether a child's word is treated under a condition.
    fn deals(&self, child: &str, word: &str, condition: &str) -> bool {
        let Some(of_set) = self.cases.get(child) else {
            return false;
        };
        let word = word.replace(['[', ']'], "");
        of_set.iter().any(|(set, under)| {
            under == condition
                && self
                    .sets
                    .get(set)
                    .is_some_and(|words| words.contains(&word))
        })
    }
}

/// Every child of the draw whose words were judged in both phases.
pub(super) fn word_sets(
    joined: &Joined<'_>,
    weights: &[f64],
    options: &OutcomeOptions,
    drawn: &SetsDrawn<'_>,
) -> Vec<WordSetsFinding> {
    let tokens = joined.tokens;
    let views = drawn.conditions.map(|condition| {
        let under = |row: &TokenRow| {
            row.word.is_some_and(|word| {
                let child = tokens.children.name(row.child);
                drawn.deals(child, tokens.words.name(word), condition)
            })
        };
        View::keeping(joined, options.words.into(), weights, under)
    });
    let [first, second] = drawn.conditions;
    drawn
        .cases
        .keys()
        .filter_map(|child| {
            let number = tokens.children.find(child)?;
            let mut reasons = Reasons::new();
            let [from, to] =
                [(&views[0], "change_from"), (&views[1], "change_to")].map(|(view, field)| {
                    change(view, number, options).inspect_err(|refusal| {
                        reasons.say(field, refusal);
                    })
                });
            let both = from.as_ref().ok().zip(to.as_ref().ok());
            if both.is_none() {
                reasons.say("difference", "one of the two changes is not known");
            }
            Some(WordSetsFinding {
                child: child.clone(),
                from: first.to_owned(),
                to: second.to_owned(),
                change_from: from.as_ref().ok().map(|change| change.difference),
                change_from_ci: from.as_ref().ok().map(limits),
                change_to: to.as_ref().ok().map(|change| change.difference),
                change_to_ci: to.as_ref().ok().map(limits),
                difference: both.map(|(from, to)| to.difference - from.difference),
                ci: both.map(|(from, to)| between_changes(from, to)),
                reasons,
            })
        })
        .collect()
}

const fn limits(change: &ChangeInterval) -> [f64; 2] {
    [change.low, change.high]
}

fn change(
    view: &View<'_>,
    child: u32,
    options: &OutcomeOptions,
) -> Result<ChangeInterval, IntervalError> {
    let phase = |name: &str| view.joined.tokens.phases.find(name);
    let sessions = |phase: Option<u32>, last| {
        phase.map_or_else(Vec::new, |phase| judged_sessions(view, child, phase, last))
    };
    let from = sessions(phase(&options.baseline), None);
    let to = sessions(phase(&options.treatment), options.last);
    let reading = if from.len().min(to.len()) >= ENOUGH_SESSIONS {
        Reading::Child
    } else {
        Reading::TheseDays
    };
    let round = view.round.as_ref().map_err(|refusal| *refusal)?;
    round.change(&from, &to, reading, options.confidence)
}
