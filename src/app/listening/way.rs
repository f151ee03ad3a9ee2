//! Her way through a drawn sitting: in which order the words come, and what comes between two.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::ListeningError;
use super::day;
use super::entry::Listening;
use super::extras::may_be_heard;
use super::parts::Parts;
use crate::store::GateKind;
use crate::store::GateRow;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Reading;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::study::KnownAnswer;
use crate::study::Plan;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::SetAside;
use crate::study::Use;

use crate::app::Now;

/// What comes before the next word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Halt {
    /// The next sound to judge is told.
    Block,
    /// The practice comes once more, as it was not passed.
    Again,
    /// The practice comes once more, after a long absence.
    Away,
    /// A rest.
    Rest,
    /// It is enough for this day.
    Today,
}

/// Whether the practice of a part was enough.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Practised {
    /// It was, or there is none.
    Enough,
    /// It was not, and may be done again.
    NotYet,
    /// It was not, as often as the plan lets it be done.
    InVain,
}

/// A sitting with all that decides what comes next.
pub(super) struct Way {
    /// Every place that asks something, in the order of hearing.
    places: Vec<PresentationRow>,
    gates: Vec<GateRow>,
    /// When each first answer of this listener came, oldest first, in all her sittings.
    answered_ms: Vec<i64>,
    /// Practice words with a known answer that she judged or set aside: whether she heard them so.
    right: BTreeMap<PresentationId, bool>,
    /// The parts for which there is anything to practise on.
    practisable: BTreeSet<u32>,
}

/// Where a place comes among those of its sitting: by parts, each with its practice first.
pub(super) fn turn(place: &PresentationRow) -> (u32, bool, u32) {
    let judged = place.kind != PresentationKind::Practice;
    (place.block, judged, place.place)
}

impl Way {
    pub(super) fn of(
        reading: &Reading<'_>,
        listening: &Listening,
        sitting: &SittingRow,
        tokens: &[RoundTokenRow],
    ) -> Result<Self, ListeningError> {
        let mut places = reading.presentations_of(sitting.id)?;
        places.retain(|place| place.kind != PresentationKind::Example);
        places.sort_by_key(turn);
        let right = practice_right(reading, &places, tokens)?;
        let barred = reading.bars(listening.enrolment.listener)?;
        let parts = Parts::of(listening, sitting.number);
        let can_practise =
            |token: &RoundTokenRow| token.use_ == Use::Practice && may_be_heard(token, &barred);
        let practisable = parts.iter().filter(|part| {
            let mut its_own = tokens.iter().filter(|token| part.takes(token));
            its_own.any(can_practise)
        });
        Ok(Self {
            practisable: practisable.map(|part| part.block).collect(),
            places,
            gates: reading.gates_of(sitting.id)?,
            answered_ms: reading.answer_times(listening.enrolment.id)?,
            right,
        })
    }

    fn waiting(&self) -> impl Iterator<Item = &PresentationRow> {
        self.places.iter().filter(|place| {
            matches!(
                place.state,
                PresentationState::Reserved | PresentationState::Returned
            )
        })
    }

    /// The place that comes next.
    pub(super) fn next(&self) -> Option<&PresentationRow> {
        self.waiting().next()
    }

    /// What comes before the next word, if anything does.
    pub(super) fn halt(&self, plan: &Plan, now: Now) -> Option<Halt> {
        let next = self.next()?;
        if day::is_full(&plan.rests, &self.answered_ms, now) {
            return Some(Halt::Today);
        }
        if next.block > 1 && !self.was_told(next.block) {
            return Some(Halt::Block);
        }
        let practises = next.kind == PresentationKind::Practice;
        let practisable = self.practisable.contains(&next.block);
        if !practises && practisable && self.was_away(plan, now) {
            return Some(Halt::Away);
        }
        if !practises && practisable && self.practised(plan, next.block) == Practised::NotYet {
            return Some(Halt::Again);
        }
        (!practises && !self.has_rested() && self.words_to_rest(plan) == Some(0))
            .then_some(Halt::Rest)
    }

    /// The words that come before the next halt, as far as it can be foreseen.
    pub(super) fn stretch(&self, plan: &Plan, now: Now) -> Vec<&PresentationRow> {
        let Some(next) = self.next().filter(|_| self.halt(plan, now).is_none()) else {
            return Vec::new();
        };
        let every = size(plan.rests.every);
        let mut to_rest = match self.words_to_rest(plan) {
            Some(0) => every,
            Some(words) => words,
            None => usize::MAX,
        };
        let mut today = day::words_left(&plan.rests, &self.answered_ms, now);
        let must_pass = plan.practice.pass.get() > 0.0;
        self.waiting()
            .take_while(|place| {
                let practises = place.kind == PresentationKind::Practice;
                let after_practice = next.kind == PresentationKind::Practice && !practises;
                let comes = place.block == next.block
                    && !(after_practice && must_pass)
                    && (practises || to_rest > 0)
                    && today > 0;
                to_rest = to_rest.saturating_sub(usize::from(!practises));
                today = today.saturating_sub(1);
                comes
            })
            .collect()
    }

    /// Words to come before the next rest; 0 where it is due now. None where the plan has no rests.
    fn words_to_rest(&self, plan: &Plan) -> Option<usize> {
        let every = size(plan.rests.every);
        let done = self.done().count();
        if every == 0 {
            None
        } else if done > 0 && done.is_multiple_of(every) {
            Some(0)
        } else {
            Some(every - done % every)
        }
    }

    /// The words that are done with, practice apart.
    fn done(&self) -> impl Iterator<Item = &PresentationRow> {
        self.places.iter().filter(|place| {
            place.kind != PresentationKind::Practice
                && matches!(
                    place.state,
                    PresentationState::Judged | PresentationState::Aside
                )
        })
    }

    /// Whether she rested or began a part, and no word is done since: the one that came next may
    /// have been cut short, or have gone to others.
    fn has_rested(&self) -> bool {
        self.gates
            .iter()
            .filter(|gate| matches!(gate.kind, GateKind::Rest | GateKind::Block))
            .filter_map(|gate| self.places.iter().find(|place| place.place == gate.place))
            .any(|next| self.done().all(|done| turn(done) < turn(next)))
    }

    fn passed(&self, kind: GateKind, place: u32) -> bool {
        self.gates
            .iter()
            .any(|gate| gate.kind == kind && gate.place == place)
    }

    /// Whether she went on into a part.
    fn was_told(&self, block: u32) -> bool {
        self.places
            .iter()
            .any(|place| place.block == block && self.passed(GateKind::Block, place.place))
    }

    fn was_away(&self, plan: &Plan, now: Now) -> bool {
        let practised = self.gates.iter().filter(|gate| gate.kind == GateKind::Away);
        let practised = practised.map(|gate| gate.passed_ms).max();
        let answered = self.answered_ms.last().copied();
        plan.sitting.practice > 0
            && answered.is_some_and(|ms| {
                let last = ms.max(practised.unwrap_or(ms));
                is_long_ago(plan, last, now)
            })
    }

    /// Whether the practice of a part was enough, once no practice word waits.
    pub(super) fn practised(&self, plan: &Plan, block: u32) -> Practised {
        let practice: Vec<_> = self
            .places
            .iter()
            .filter(|place| place.block == block && place.kind == PresentationKind::Practice)
            .collect();
        // Each time but the first begins at a gate.
        let times: Vec<_> = self
            .gates
            .iter()
            .filter(|gate| {
                matches!(gate.kind, GateKind::Again | GateKind::Away)
                    && practice.iter().any(|place| place.place == gate.place)
            })
            .collect();
        let from = times.last().map_or(0, |gate| gate.place);
        let last_time = practice.iter().filter(|place| place.place >= from);
        let known: Vec<bool> = last_time
            .filter_map(|place| self.right.get(&place.id).copied())
            .collect();
        let right = known.iter().filter(|right| **right).count();
        if right as f64 >= plan.practice.pass.get() * known.len() as f64 {
            return Practised::Enough;
        }
        let again = times
            .iter()
            .rev()
            .take_while(|gate| gate.kind == GateKind::Again);
        if again.count() + 1 < size(plan.practice.tries) {
            Practised::NotYet
        } else {
            Practised::InVain
        }
    }

    /// Whether the practice of a part was done in vain, and the plan lets such a listener go.
    pub(super) fn ends_with_practice(&self, plan: &Plan, block: u32) -> bool {
        let practises = self
            .waiting()
            .any(|place| place.block == block && place.kind == PresentationKind::Practice);
        plan.practice.failed == crate::study::course::Failed::LetGo
            && !practises
            && self.practised(plan, block) == Practised::InVain
    }
}

/// Whether an answer lies so far back that the plan asks for practice once more.
pub(super) fn is_long_ago(plan: &Plan, last_ms: i64, now: Now) -> bool {
    now.ms() - last_ms > i64::from(plan.practice.again_hours) * 3_600_000
}

fn practice_right(
    reading: &Reading<'_>,
    places: &[PresentationRow],
    tokens: &[RoundTokenRow],
) -> Result<BTreeMap<PresentationId, bool>, ListeningError> {
    let mut right = BTreeMap::new();
    let done = places.iter().filter(|place| {
        place.kind == PresentationKind::Practice
            // Whoever knows the speaker cannot judge; it says nothing of what she hears.
            && place.aside != Some(SetAside::KnownSpeaker)
            && matches!(
                place.state,
                PresentationState::Judged | PresentationState::Aside
            )
    });
    for place in done {
        let known = tokens
            .iter()
            .find(|token| token.id == place.token)
            .and_then(|token| token.answer)
            .filter(|answer| *answer != KnownAnswer::Divided);
        if let Some(known) = known {
            // A word that was set aside was not told: else nobody would have to listen.
            let said = reading.judgements_of(place.id)?.pop();
            let told = said.is_some_and(|said| known.as_str() == said.answer.as_str());
            right.insert(place.id, told);
        }
    }
    Ok(right)
}

fn size(count: u32) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}
