//! Which tokens a round plays, and the strata over which it is balanced.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::blinding::Chance;
use crate::store::Reading;
use crate::store::StoreError;
use crate::store::TokenId;
use crate::store::TokenRow;
use crate::study::ChildCode;
use crate::study::Plan;
use crate::study::RoundState;
use crate::study::plan::Attempts;

/// The tokens that the plan plays: the scored ones that it chooses, and all that are there to
/// prepare and to watch the listener. `tokens`: those that are in use.
pub(super) fn choose<'t>(plan: &Plan, tokens: &'t [TokenRow]) -> Vec<&'t TokenRow> {
    let choice = &plan.tokens;
    let chosen: Vec<_> = tokens
        .iter()
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

/// The tokens that a round may play: nothing excluded, and nothing of a child out of use.
pub(super) fn in_use(mut tokens: Vec<TokenRow>, stopped: &BTreeSet<ChildCode>) -> Vec<TokenRow> {
    tokens.retain(|token| {
        let child = token.key.child.as_ref();
        token.excluded.is_none() && child.is_none_or(|child| !stopped.contains(child))
    });
    tokens
}

/// What earlier rounds played, and how it was heard where results may be seen.
#[derive(Debug, Clone, Default)]
pub(super) struct Earlier {
    /// Of each unlocked round, oldest first.
    pub(super) rounds: Vec<BTreeSet<TokenId>>,
    pub(super) played: BTreeSet<TokenId>,
    /// The share judged correct, of rounds that were unlocked.
    pub(super) shares: Vec<(TokenId, f64)>,
}

impl Earlier {
    pub(super) fn read(reading: &Reading<'_>) -> Result<Self, StoreError> {
        let (mut rounds, mut played) = (Vec::new(), BTreeSet::new());
        for round in reading.rounds()? {
            let tokens = reading.round_tokens(round.id)?;
            let tokens: BTreeSet<_> = tokens.iter().map(|token| token.token).collect();
            played.extend(tokens.iter().copied());
            if round.state == RoundState::Unlocked {
                rounds.push(tokens);
            }
        }
        Ok(Self {
            rounds,
            played,
            shares: reading.unlocked_shares()?,
        })
    }

    /// Of the scored tokens those that no earlier round played, where the plan asks for that.
    pub(super) fn leave_out<'t>(
        &self,
        plan: &Plan,
        chosen: Vec<&'t TokenRow>,
    ) -> Vec<&'t TokenRow> {
        let old = |token: &TokenRow| {
            plan.tokens.only_new && token.key.use_.is_scored() && self.played.contains(&token.id)
        };
        chosen.into_iter().filter(|token| !old(token)).collect()
    }

    /// The first of these rounds that played a token.
    pub(super) fn first_heard(&self, token: TokenId) -> Option<usize> {
        self.rounds.iter().position(|round| round.contains(&token))
    }

    /// The links of a plan that plays so many new words: one word of each of as many stretches of the whole range of
    /// quality, drawn. Too few earlier words: all of them. `tokens`: those that are in use.
    pub(super) fn links<'t>(
        &self,
        plan: &Plan,
        new: usize,
        tokens: &'t [TokenRow],
        may_link: &dyn Fn(&TokenRow) -> bool,
        chance: &mut Chance,
    ) -> Vec<&'t TokenRow> {
        if !plan.tokens.only_new {
            return Vec::new();
        }
        let heard: BTreeMap<TokenId, f64> = self.shares.iter().copied().collect();
        let mut known: Vec<(f64, &TokenRow)> = tokens
            .iter()
            .filter(|token| token.key.use_.is_scored() && may_link(token))
            .filter_map(|token| Some((*heard.get(&token.id)?, token)))
            .collect();
        // Within one quality the order of import stands.
        known.sort_by(|(a, _), (b, _)| a.total_cmp(b));
        let wanted = plan.links_among(new).min(known.len());
        let stretch = |number: usize| number * known.len() / wanted.max(1);
        (0..wanted)
            .filter_map(|number| {
                let stretch = known.get(stretch(number)..stretch(number + 1))?;
                chance.pick(stretch).map(|(_, token)| *token)
            })
            .collect()
    }
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
