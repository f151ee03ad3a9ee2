//! The words of a sitting that are not scored: checks, warm-ups and practice.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::ListeningError;
use super::draw;
use super::entry::Listening;
use super::parts::Part;
use super::stage;
use crate::app::Now;
use crate::blinding::Chance;
use crate::blinding::Extra;
use crate::store::ChildId;
use crate::store::RoundTokenId;
use crate::store::RoundTokenRow;
use crate::store::Writing;
use crate::study::PresentationId;
use crate::study::Use;

/// The words that are not scored: each is dealt once, to one part.
pub(super) struct Extras<'t> {
    left: Vec<&'t RoundTokenRow>,
    heard: &'t BTreeSet<RoundTokenId>,
    words: BTreeMap<String, u32>,
}

impl<'t> Extras<'t> {
    /// Those that this listener has not heard, of speakers who are not barred to her; practice words
    /// may come again.
    pub(super) fn new(
        tokens: &'t [RoundTokenRow],
        heard: &'t BTreeSet<RoundTokenId>,
        barred: &[ChildId],
    ) -> Self {
        let left = tokens.iter().filter(|token| {
            let fresh = token.use_ == Use::Practice || !heard.contains(&token.id);
            token.stratum.is_none() && may_be_heard(token, barred) && fresh
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

/// Whether a word may be played to a listener: it is in use, and its speaker is not barred to her.
pub(super) fn may_be_heard(token: &RoundTokenRow, barred: &[ChildId]) -> bool {
    token.in_use && token.child.is_none_or(|child| !barred.contains(&child))
}

/// Drops whatever waits of a speaker who was barred from a listener just now: words to judge, and all
/// else that this speaker says. Says what was dropped.
pub(super) fn end_speaker(
    writing: &Writing<'_>,
    listening: &Listening,
    child: ChildId,
    now: Now,
) -> Result<Vec<PresentationId>, ListeningError> {
    let dropped = writing.drop_places_of_child(listening.enrolment.id, child)?;
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    if let Some(sitting) = sittings.last() {
        let places = writing.presentations_of(sitting.id)?;
        // Another device of hers would have nothing to check its sound with.
        if !places.iter().any(stage::is_example) {
            let first = draw::next_place(&places);
            draw::furnish(writing, listening, sitting.into(), first, now)?;
        }
    }
    Ok(dropped)
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
