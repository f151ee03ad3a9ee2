//! The words of a sitting that are not scored: checks, warm-ups and practice.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::parts::Part;
use crate::blinding::Chance;
use crate::blinding::Extra;
use crate::store::RoundTokenId;
use crate::store::RoundTokenRow;
use crate::study::Use;

/// The words that are not scored: each is dealt once, to one part.
pub(super) struct Extras<'t> {
    left: Vec<&'t RoundTokenRow>,
    heard: &'t BTreeSet<RoundTokenId>,
    words: BTreeMap<String, u32>,
}

impl<'t> Extras<'t> {
    /// Those that this listener has not heard; practice words may come again.
    pub(super) fn new(tokens: &'t [RoundTokenRow], heard: &'t BTreeSet<RoundTokenId>) -> Self {
        let left = tokens.iter().filter(|token| {
            let fresh = token.use_ == Use::Practice || !heard.contains(&token.id);
            token.stratum.is_none() && token.in_use && fresh
        });
        Self {
            left: left.collect(),
            heard,
            words: words(tokens),
        }
    }

    pub(super) fn leave_out(&mut self, use_: Use) {
        self.left.retain(|token| token.use_ != use_);
    }

    /// At most so many words of a use for a part, by chance.
    pub(super) fn take(
        &mut self,
        part: Part<'_>,
        use_: Use,
        places: u32,
        chance: &mut Chance,
    ) -> Vec<Extra> {
        let (mut all, rest): (Vec<_>, Vec<_>) = self
            .left
            .iter()
            .copied()
            .partition(|token| token.use_ == use_ && part.takes(token));
        chance.shuffle(&mut all);
        all.sort_by_key(|token| self.heard.contains(&token.id));
        let kept = all.split_off(all.len().min(usize::try_from(places).unwrap_or(usize::MAX)));
        self.left = [rest, kept].concat();
        self.left.sort_by_key(|token| token.number);
        all.iter()
            .map(|token| Extra {
                token: token.number,
                child: None,
                word: self.words.get(token.word.text().as_str()).copied(),
            })
            .collect()
    }
}

/// A bare number for each word.
pub(super) fn words(tokens: &[RoundTokenRow]) -> BTreeMap<String, u32> {
    let mut words = BTreeMap::new();
    for token in tokens {
        let next = u32::try_from(words.len()).unwrap_or(u32::MAX);
        words.entry(token.word.text()).or_insert(next);
    }
    words
}
