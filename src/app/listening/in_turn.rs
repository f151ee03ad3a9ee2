//! Whether an answer may come now: in the order of the words, and until the next one is heard.

use super::ListeningError;
use super::entry::Listening;
use super::judge;
use super::judge::Answered;
use super::stage;
use super::way;
use crate::store::JudgementRow;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Writing;
use crate::study::PresentationKind;

/// Whether this answer may come now.
pub(super) fn check(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    places: &[PresentationRow],
    earlier: &[JudgementRow],
    answered: Answered,
) -> Result<(), ListeningError> {
    let last = earlier.last().map_or(0, |row| row.revision);
    if answered.revision != last + 1 {
        return Err(ListeningError::Conflict);
    }
    if last > 0 {
        let may_change =
            listening.plan.sitting.may_change && place.kind != PresentationKind::Practice;
        return if may_change && !went_on(writing, listening, place, places, earlier)? {
            Ok(())
        } else {
            Err(ListeningError::Settled)
        };
    }
    match place.state {
        PresentationState::Aside => Err(ListeningError::Settled),
        // It was cut short elsewhere, and the word comes back under another name.
        PresentationState::Dropped if place.voided > 0 => Err(ListeningError::Settled),
        PresentationState::Dropped => check_late(writing, listening, place),
        _ => refuse_early(place, places),
    }
}

/// Refuses what comes while an earlier word waits.
pub(super) fn refuse_early(
    place: &PresentationRow,
    places: &[PresentationRow],
) -> Result<(), ListeningError> {
    let skipped = places.iter().any(|other| waits_before(other, place));
    if skipped {
        Err(ListeningError::OutOfOrder)
    } else {
        Ok(())
    }
}

/// Whether she has gone on since she first answered this word: heard another one, or begun to, or come
/// to the end. Practice that came once more has later places, before whichever word it was heard: its
/// time decides.
fn went_on(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    places: &[PresentationRow],
    earlier: &[JudgementRow],
) -> Result<bool, ListeningError> {
    let over = listening.enrolment.finished_ms.is_some() || listening.enrolment.let_go_ms.is_some();
    if over || has_begun_another(writing, listening, place)? {
        return Ok(true);
    }
    let answered_ms = earlier.first().map(|row| row.received_ms);
    let heard = writing.heard_in(place.sitting)?;
    let done = places.iter().filter(|other| {
        other.voided > 0
            || heard.contains(&other.id)
            || matches!(
                other.state,
                PresentationState::Judged | PresentationState::Aside
            )
    });
    for other in done {
        let later = if other.kind == PresentationKind::Practice && other.place > place.place {
            let practised = writing.judgements_of(other.id)?;
            practised.first().map(|row| row.received_ms) > answered_ms
        } else {
            way::turn(other) > way::turn(place)
        };
        if later {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a later sitting than that of this word was drawn.
fn has_begun_another(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
) -> Result<bool, ListeningError> {
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    let last = sittings.last().filter(|last| last.id != place.sitting);
    Ok(match last {
        Some(last) => stage::is_drawn(&writing.presentations_of(last.id)?),
        None => false,
    })
}

/// Whether a word is to be judged before another. Practice that came once more does not hold back what
/// was heard before it, and whose answer waited in a browser.
fn waits_before(other: &PresentationRow, place: &PresentationRow) -> bool {
    let came_later = other.kind == PresentationKind::Practice && other.place > place.place;
    way::turn(other) < way::turn(place) && other.state == PresentationState::Reserved && !came_later
}

/// An answer to a place that was given away is taken, unless the child was barred since or the word
/// is out of use.
fn check_late(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
) -> Result<(), ListeningError> {
    let token = judge::token_of(writing, listening, place)?;
    let barred = writing.bars(listening.enrolment.listener)?;
    if !token.in_use || token.child.is_some_and(|child| barred.contains(&child)) {
        Err(ListeningError::NotHere)
    } else {
        Ok(())
    }
}
