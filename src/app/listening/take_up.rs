//! Taking up a sitting that lay idle, and whose places went back.

use super::ListeningError;
use super::draw;
use super::draw::log_moved;
use super::entry::Listening;
use super::hear;
use super::judge;
use super::parts::Part;
use super::parts::Parts;
use super::stage;
use crate::app::AppError;
use crate::app::Now;
use crate::blinding;
use crate::blinding::Candidate;
use crate::blinding::SittingDesign;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::store::Writing;
use crate::study::PresentationKind;

/// Takes up a sitting whose places went back: each place is reserved again where the rule of
/// allocation still lets it; for every one that is lost another word is drawn, at the end.
pub(super) fn take_up_again(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let planned = listening.plan.listeners.judgements_per_token;
    let (mut kept, mut dropped, mut lost) = (Vec::new(), Vec::new(), 0);
    let mut candidates = draw::candidates(writing, listening, &tokens)?;
    for place in writing.presentations_of(sitting.id)? {
        if place.state != PresentationState::Returned {
            continue;
        }
        let number = tokens
            .iter()
            .find(|token| token.id == place.token)
            .map(|token| token.number);
        if number.is_some_and(|number| may_take(&candidates, number, planned)) {
            writing.move_presentation(place.id, PresentationState::Reserved, None)?;
            kept.push(place.id);
            let taken = candidates.iter_mut().find(|one| number == Some(one.token));
            if let Some(taken) = taken {
                taken.committed += 1;
            }
        } else {
            lost += 1;
            writing.move_presentation(place.id, PresentationState::Dropped, None)?;
            dropped.push(place.id);
            dropped.extend(draw::drop_its_repeat(writing, &place)?);
        }
    }
    log_moved(writing, "places taken up", sitting.stream, &kept, now)?;
    log_moved(writing, "places dropped", sitting.stream, &dropped, now)?;
    writing.touch_sitting(sitting.id, now.ms())?;
    let places = writing.presentations_of(sitting.id)?;
    let first = draw::next_place(&places);
    let mut chance = draw::chance_from(listening, sitting, first);
    let parts = Parts::of(listening, sitting.number);
    let under_way = part_under_way(&places);
    let parts: Vec<_> = parts
        .iter()
        .filter(|part| part.block >= under_way)
        .collect();
    let mut slots = Vec::new();
    let open = candidates_of(&parts, &candidates, &tokens);
    let main = draw::chosen(&open, lost, planned, &mut chance);
    for part in parts {
        let main = draw::main_of(part, &main, &tokens);
        let design = SittingDesign {
            repeats: 0,
            repeat_distance: 0,
        };
        let ordered = blinding::order(&main, &[], &[], &[], &design, &mut chance)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        slots.extend(draw::placed(part, &ordered, &tokens));
    }
    if slots.is_empty() {
        return leave_the_rest(writing, listening, sitting, now);
    }
    draw::add_places(writing, listening, sitting.into(), first, &slots, now)
}

/// Drops what is left of a sitting whose words to judge have all gone to others: practice, warm-ups
/// and checks alone would ask her for nothing that counts.
fn leave_the_rest(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let places = writing.presentations_of(sitting.id)?;
    let judges = places.iter().any(|place| {
        place.kind == PresentationKind::Main && place.state != PresentationState::Dropped
    });
    if judges {
        return Ok(());
    }
    let dropped = writing.drop_waiting_places(sitting.id)?;
    draw::log_moved(writing, "places dropped", sitting.stream, &dropped, now)?;
    let places = writing.presentations_of(sitting.id)?;
    if stage::is_begun(&places) {
        judge::end_if_done(writing, listening, sitting.id, &hear::asking(places), now)?;
    }
    Ok(())
}

/// The candidates, those left out that no part to come may play: they count in the balance alone.
fn candidates_of(
    parts: &[Part<'_>],
    candidates: &[Candidate],
    tokens: &[RoundTokenRow],
) -> Vec<Candidate> {
    let by_number = draw::by_number(tokens);
    candidates
        .iter()
        .map(|one| {
            let comes = by_number
                .get(&one.token)
                .is_some_and(|token| parts.iter().any(|part| part.takes(token)));
            Candidate {
                may_hear: one.may_hear && comes,
                ..*one
            }
        })
        .collect()
}

/// The part of a sitting in which the last word was answered.
fn part_under_way(places: &[PresentationRow]) -> u32 {
    let done = places.iter().filter(|place| {
        matches!(
            place.state,
            PresentationState::Judged | PresentationState::Aside
        )
    });
    done.map(|place| place.block).max().unwrap_or(1)
}

/// Whether the rule of allocation lets a place go back to its own token: it still needs a
/// judgement, and none of its stratum that this listener may hear has fewer.
fn may_take(candidates: &[Candidate], token: u32, planned: u32) -> bool {
    candidates
        .iter()
        .find(|one| one.token == token)
        .is_some_and(|wanted| {
            wanted.committed < planned
                && candidates
                    .iter()
                    .filter(|other| other.stratum == wanted.stratum && other.may_hear)
                    .all(|other| other.committed >= wanted.committed)
        })
}
