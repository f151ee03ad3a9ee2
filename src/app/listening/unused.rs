//! Words that went out of use while a round is open: what waits of them is dropped, and nobody who
//! listens is told.

use std::collections::BTreeMap;

use super::ListeningError;
use super::course;
use super::draw;
use super::entry::Listening;
use super::stage;
use crate::app::AppError;
use crate::app::Now;
use crate::store::Enrolment;
use crate::store::PresentationState;
use crate::store::RoundBrief;
use crate::store::RoundRow;
use crate::store::SittingRow;
use crate::store::Writing;
use crate::study::PresentationId;
use crate::study::RoundState;

/// Drops every waiting place of a word that is out of use, in every open round, and ends the
/// sittings in which nothing waits any more.
pub(in crate::app) fn drop_unused(writing: &Writing<'_>, now: Now) -> Result<(), AppError> {
    for round in writing.rounds()? {
        if round.state == RoundState::Open {
            drop_in(writing, &round, now).map_err(ours)?;
        }
    }
    Ok(())
}

fn drop_in(writing: &Writing<'_>, round: &RoundRow, now: Now) -> Result<(), ListeningError> {
    let Some(brief) = writing.round_in_brief(round.id)? else {
        return Ok(());
    };
    let mut dropped: BTreeMap<_, Vec<PresentationId>> = BTreeMap::new();
    for (sitting, place) in writing.drop_unused_places(round.id)? {
        dropped.entry(sitting).or_default().push(place);
    }
    for enrolment in writing.enrolments(round.id)? {
        for sitting in writing.sittings_of(enrolment.id)? {
            let places = dropped.remove(&sitting.id).unwrap_or_default();
            draw::log_moved(writing, "places dropped", sitting.stream, &places, now)?;
            if sitting.ended_ms.is_none() {
                mend(writing, &brief, &enrolment, &sitting, now)?;
            }
        }
    }
    Ok(())
}

/// A sitting that lost places goes on: with a sound to check, if it has none left; or it ends.
fn mend(
    writing: &Writing<'_>,
    round: &RoundBrief,
    enrolment: &Enrolment,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let listening = Listening {
        visit: None,
        enrolment: enrolment.clone(),
        round: round.clone(),
        plan: serde_json::from_str(&round.plan)
            .map_err(|error| AppError::Unreadable(error.to_string()))?,
    };
    let mut places = writing.presentations_of(sitting.id)?;
    let last = places.iter().map(|place| place.place).max().unwrap_or(0);
    let drawn = stage::is_drawn(&places);
    places.retain(|place| place.state != PresentationState::Dropped);
    if drawn {
        if !stage::is_to_be_heard(&places) {
            course::end(writing, &enrolment.code, sitting, course::DONE, now)?;
            if sitting.number < listening.plan.listeners.sittings {
                draw::make_room(writing, &listening, now)?;
            }
        }
    } else if places.is_empty() {
        draw::furnish(writing, &listening, sitting.into(), last + 1, now)?;
    }
    Ok(())
}

/// Nothing here comes from a listener: what fails is ours.
fn ours(error: ListeningError) -> AppError {
    match error {
        ListeningError::App(error) => error,
        other => AppError::Unreadable(other.to_string()),
    }
}
