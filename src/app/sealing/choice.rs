//! Which tokens a round plays, and the strata over which it is balanced.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::store::TokenRow;
use crate::study::ChildCode;
use crate::study::Plan;
use crate::study::plan::Attempts;

/// The tokens that the plan plays: the scored ones that it chooses, and all that are there to
/// prepare and to watch the listener. Nothing excluded, and nothing of a child out of use.
pub(super) fn choose<'t>(
    plan: &Plan,
    tokens: &'t [TokenRow],
    stopped: &BTreeSet<ChildCode>,
) -> Vec<&'t TokenRow> {
    let choice = &plan.tokens;
    let chosen: Vec<_> = tokens
        .iter()
        .filter(|token| token.excluded.is_none())
        .filter(|token| {
            token
                .key
                .child
                .as_ref()
                .is_none_or(|child| !stopped.contains(child))
        })
        .filter(|token| {
            let key = &token.key;
            let child = choice.children.is_empty()
                || key
                    .child
                    .as_ref()
                    .is_some_and(|child| choice.children.contains(child));
            let phase = choice.phases.is_empty()
                || key
                    .phase
                    .as_ref()
                    .is_some_and(|phase| choice.phases.contains(phase));
            !key.use_.is_scored() || (child && phase)
        })
        .collect();
    let mut attempts: BTreeMap<_, Vec<u32>> = BTreeMap::new();
    for token in chosen.iter().filter(|token| token.key.use_.is_scored()) {
        attempts
            .entry(word_of(token))
            .or_default()
            .push(token.key.attempt);
    }
    chosen
        .into_iter()
        .filter(|token| {
            let tries = attempts
                .get(&word_of(token))
                .filter(|_| token.key.use_.is_scored());
            match (choice.attempts, tries) {
                (Attempts::First, Some(tries)) => tries.iter().min() == Some(&token.key.attempt),
                (Attempts::Last, Some(tries)) => tries.iter().max() == Some(&token.key.attempt),
                _ => true,
            }
        })
        .collect()
}

fn word_of(token: &TokenRow) -> (Option<ChildCode>, Option<u32>, String) {
    (
        token.key.child.clone(),
        token.key.session,
        token.key.word.text(),
    )
}

/// The child and session of a scored token.
pub(super) fn stratum_of(token: &TokenRow) -> Option<(ChildCode, u32)> {
    let key = &token.key;
    key.use_
        .is_scored()
        .then(|| Some((key.child.clone()?, key.session?)))
        .flatten()
}

/// One bare number for each child in each session.
pub(super) fn strata(tokens: &[&TokenRow]) -> BTreeMap<(ChildCode, u32), u32> {
    let places: BTreeSet<_> = tokens
        .iter()
        .filter_map(|token| stratum_of(token))
        .collect();
    places.into_iter().zip(0..).collect()
}
