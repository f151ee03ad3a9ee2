//! Which tokens a sitting hears.

use std::collections::BTreeMap;

use super::Chance;

/// A main token of the round, seen from one listener who begins a sitting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Candidate {
    /// The token.
    pub token: u32,
    /// One child in one session: the unit over which allocation and order are balanced.
    pub stratum: u32,
    /// The phase of that session.
    pub phase: u32,
    /// The child.
    pub child: u32,
    /// The word.
    pub word: u32,
    /// Main judgements kept and places reserved, over all listeners.
    pub committed: u32,
    /// Whether this listener may hear it: it was never dealt to her before (a place that went back
    /// may still be judged late), she is not barred from the child, and has not said that she
    /// knows the voice.
    pub may_hear: bool,
}

/// The tokens of a stratum, and what this sitting took of them.
#[derive(Default)]
struct Stratum {
    committed: Vec<u32>,
    /// What this listener may hear, the next to be taken last.
    open: Vec<(u32, u32)>,
    taken: usize,
    /// Places that went back made a difference of two or more.
    uneven: bool,
}

impl Stratum {
    fn least(&self) -> u32 {
        self.committed.iter().copied().min().unwrap_or(0)
    }

    /// How often the next token was judged, if a place may go to it.
    fn need(&self, planned: u32) -> Option<u32> {
        let (committed, _) = *self.open.last()?;
        let allowed = committed < planned && (self.uneven || committed == self.least());
        allowed.then_some(committed)
    }

    fn take(&mut self) -> Option<u32> {
        let (committed, token) = self.open.pop()?;
        if let Some(slot) = self.committed.iter_mut().find(|c| **c == committed) {
            *slot += 1;
        }
        self.taken += 1;
        Some(token)
    }
}

/// Chooses the main tokens of one sitting: at most `places`, none that already has `planned`
/// judgements, in no particular order.
///
/// `candidates`: every main token of the round, also those that this listener may not hear; they
/// count in the balance. Runs in the transaction that reserves what it returns.
///
/// Within a stratum a place never goes to a token while another that this listener may hear has
/// fewer judgements kept and reserved, nor to one that would then lie two ahead of any token of
/// the stratum: a listener for whom only such tokens are left gets none of that stratum. Where
/// returned places already made a difference of two, only the first half holds.
///
/// Among strata the place goes to the one whose next token has the fewest; then to the one with
/// the fewest places in this sitting for its size; then to a random one.
pub fn allocate(
    candidates: &[Candidate],
    places: usize,
    planned: u32,
    chance: &mut Chance,
) -> Vec<u32> {
    let mut strata = strata(candidates, chance);
    let mut chosen = Vec::with_capacity(places.min(candidates.len()));
    while chosen.len() < places {
        let Some(next) = neediest(&strata, planned, chance) else {
            break;
        };
        let Some(token) = strata.get_mut(next).and_then(Stratum::take) else {
            break;
        };
        chosen.push(token);
    }
    chosen
}

fn strata(candidates: &[Candidate], chance: &mut Chance) -> Vec<Stratum> {
    let mut strata: BTreeMap<u32, Stratum> = BTreeMap::new();
    let mut candidates: Vec<_> = candidates.iter().collect();
    candidates.sort_by_key(|candidate| candidate.token);
    for candidate in candidates {
        let stratum = strata.entry(candidate.stratum).or_default();
        stratum.committed.push(candidate.committed);
        if candidate.may_hear {
            stratum.open.push((candidate.committed, candidate.token));
        }
    }
    for stratum in strata.values_mut() {
        chance.shuffle(&mut stratum.open);
        stratum.open.sort_by(|(a, _), (b, _)| b.cmp(a));
        let most = stratum.committed.iter().copied().max().unwrap_or(0);
        stratum.uneven = most - stratum.least() > 1;
    }
    strata.into_values().collect()
}

/// The stratum that gets the next place.
fn neediest(strata: &[Stratum], planned: u32, chance: &mut Chance) -> Option<usize> {
    let mut best: Vec<usize> = Vec::new();
    let mut least: Option<(u32, usize, usize)> = None;
    for (index, stratum) in strata.iter().enumerate() {
        let Some(need) = stratum.need(planned) else {
            continue;
        };
        let (taken, size) = (stratum.taken, stratum.committed.len());
        // taken / size, compared without division.
        let order = least.map(|(least_need, least_taken, least_size)| {
            (need.cmp(&least_need)).then((taken * least_size).cmp(&(least_taken * size)))
        });
        if order.is_none_or(std::cmp::Ordering::is_lt) {
            best.clear();
            least = Some((need, taken, size));
        }
        if order.is_none_or(std::cmp::Ordering::is_le) {
            best.push(index);
        }
    }
    chance.pick(&best).copied()
}
