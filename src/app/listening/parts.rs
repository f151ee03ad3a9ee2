//! The parts of a sitting: one sound to judge after another, where a round has several.

use std::collections::BTreeSet;

use super::ListeningError;
use super::entry::Listening;
use crate::blinding;
use crate::blinding::Seed;
use crate::store::Reading;
use crate::store::RoundTokenRow;
use crate::study::StudySettings;
use crate::study::course::Target;

/// What a listener is told to judge in one part of a sitting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// The sound: "the s sound".
    pub target: String,
    /// What to judge, and what to leave out of account.
    pub instruction: String,
    /// The part, counted from 1 among those with words.
    pub part: u32,
    /// Parts of the sitting that have words.
    pub of: u32,
    /// Whether the sitting begins with it: its words are drawn once she has read this.
    pub begins: bool,
    /// The part by its number in the order of this listener.
    pub block: u32,
}

/// The parts of one sitting in the order in which its listener hears them: one, or one a target.
pub(super) struct Parts<'p>(Vec<Part<'p>>);

/// One part.
#[derive(Clone, Copy)]
pub(super) struct Part<'p> {
    /// Counted from 1; kept with each place.
    pub(super) block: u32,
    target: Option<&'p Target>,
}

impl Part<'_> {
    /// Whether a word may be played in this part: it is of its target, or of none in particular.
    pub(super) fn takes(&self, token: &RoundTokenRow) -> bool {
        match (self.target, &token.target) {
            (Some(part), Some(target)) => part.target == *target,
            _ => true,
        }
    }
}

impl<'p> Parts<'p> {
    /// The parts of a listener's sitting with that number.
    pub(super) fn of(listening: &'p Listening, sitting_number: u32) -> Self {
        let targets = &listening.plan.targets;
        if targets.is_empty() {
            return Self(vec![Part {
                block: 1,
                target: None,
            }]);
        }
        let order = blinding::target_order(
            u64::from(listening.enrolment.number),
            sitting_number,
            targets.len(),
            &Seed::new(listening.round.seed),
        );
        let parts = (1..).zip(order).map(|(block, target)| Part {
            block,
            target: targets.get(target),
        });
        Self(parts.collect())
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = Part<'p>> {
        self.0.iter().copied()
    }

    /// How many there are.
    pub(super) const fn count(&self) -> usize {
        self.0.len()
    }

    /// The parts for which words to judge are open to this listener now; all where none is.
    pub(super) fn open(
        &self,
        reading: &Reading<'_>,
        listening: &Listening,
        tokens: &[RoundTokenRow],
    ) -> Result<Vec<u32>, ListeningError> {
        let all = || self.iter().map(|part| part.block).collect();
        if self.count() == 1 {
            return Ok(all());
        }
        let planned = listening.plan.listeners.judgements_per_token;
        let open: BTreeSet<_> = reading
            .standings(listening.round.id, listening.enrolment.listener)?
            .into_iter()
            .filter(|standing| standing.may_hear && standing.committed < planned)
            .map(|standing| standing.token)
            .collect();
        let has_words = |part: &Part<'_>| {
            let mut its_own = tokens.iter().filter(|token| part.takes(token));
            its_own.any(|token| open.contains(&token.id))
        };
        let blocks: Vec<_> = self
            .iter()
            .filter(has_words)
            .map(|part| part.block)
            .collect();
        Ok(if blocks.is_empty() { all() } else { blocks })
    }

    /// The part with that number.
    pub(super) fn part(&self, block: u32) -> Option<Part<'p>> {
        self.iter().find(|part| part.block == block)
    }

    /// What its listener is told before a part.
    pub(super) fn told(&self, block: u32, listening: &Listening, study: &StudySettings) -> Told {
        let target = self.part(block).and_then(|part| part.target);
        let (name, instruction) = target.map_or(
            (&study.target, &listening.plan.texts.instruction),
            |target| (&target.name, &target.instruction),
        );
        Told {
            target: name.clone(),
            instruction: instruction.clone(),
            part: block,
            of: u32::try_from(self.count()).unwrap_or(u32::MAX),
            begins: false,
            block,
        }
    }
}
