//! Which sessions and words are drawn, where a plan plays not all that were recorded.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::choice::stratum_of;
use crate::blinding::Chance;
use crate::store::TokenRow;
use crate::study::ChildCode;
use crate::study::Phase;
use crate::study::plan::TokenChoice;

/// The sessions of one child in one phase.
type Stretch = (ChildCode, Option<Phase>);

/// What the draw leaves of the chosen tokens; tokens that are not scored are no part of it.
///
/// First the sessions of each child in each phase, then one order of words a child, treated and untreated ones in turn:
/// each of her sessions plays the first words of it that it has.
pub(super) fn draw<'t>(
    choice: &TokenChoice,
    mut tokens: Vec<&'t TokenRow>,
    chance: &mut Chance,
) -> Vec<&'t TokenRow> {
    if let Some(wanted) = choice.sample_sessions {
        let drawn = sessions(&tokens, size(wanted), chance);
        tokens.retain(|token| stratum_of(token).is_none_or(|session| drawn.contains(&session)));
    }
    if let Some(wanted) = choice.sample_words {
        let drawn = words(&tokens, size(wanted), chance);
        tokens.retain(|token| {
            stratum_of(token)
                .is_none_or(|session| drawn.contains(&(session, token.key.word.text())))
        });
    }
    tokens
}

fn sessions(
    tokens: &[&TokenRow],
    wanted: usize,
    chance: &mut Chance,
) -> BTreeSet<(ChildCode, u32)> {
    let mut stretches: BTreeMap<Stretch, BTreeSet<u32>> = BTreeMap::new();
    for token in tokens {
        if let Some((child, session)) = stratum_of(token) {
            let stretch = stretches.entry((child, token.key.phase.clone()));
            stretch.or_default().insert(session);
        }
    }
    let mut drawn = BTreeSet::new();
    for ((child, _), sessions) in stretches {
        let mut sessions: Vec<u32> = sessions.into_iter().collect();
        chance.shuffle(&mut sessions);
        let taken = sessions.into_iter().take(wanted);
        drawn.extend(taken.map(|session| (child.clone(), session)));
    }
    drawn
}

fn words(
    tokens: &[&TokenRow],
    wanted: usize,
    chance: &mut Chance,
) -> BTreeSet<((ChildCode, u32), String)> {
    let mut spoken: BTreeMap<ChildCode, BTreeMap<String, bool>> = BTreeMap::new();
    let mut of_session: BTreeMap<(ChildCode, u32), BTreeSet<String>> = BTreeMap::new();
    for token in tokens {
        if let Some(session) = stratum_of(token) {
            let word = token.key.word.text();
            let treated = token.key.treated == Some(true);
            let child = spoken.entry(session.0.clone()).or_default();
            *child.entry(word.clone()).or_default() |= treated;
            of_session.entry(session).or_default().insert(word);
        }
    }
    let orders: BTreeMap<ChildCode, Vec<String>> = spoken
        .into_iter()
        .map(|(child, words)| (child, order(words, chance)))
        .collect();
    let mut drawn = BTreeSet::new();
    for (session, has) in of_session {
        let order = orders.get(&session.0).into_iter().flatten();
        let taken = order.filter(|word| has.contains(*word)).take(wanted);
        drawn.extend(taken.map(|word| (session.clone(), word.clone())));
    }
    drawn
}

/// The words of a child in random order, treated and untreated ones in turn as long as there are both.
fn order(words: BTreeMap<String, bool>, chance: &mut Chance) -> Vec<String> {
    let mut words: Vec<(String, bool)> = words.into_iter().collect();
    chance.shuffle(&mut words);
    let first_is_treated = words.first().is_some_and(|(_, treated)| *treated);
    let (one, other): (Vec<_>, Vec<_>) = words
        .into_iter()
        .partition(|(_, treated)| *treated == first_is_treated);
    let mut other = other.into_iter();
    let mut order = Vec::new();
    for word in one {
        order.push(word.0);
        order.extend(other.next().map(|word| word.0));
    }
    order.extend(other.map(|word| word.0));
    order
}

fn size(count: u32) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}
