//! Going on between two words: after a rest, into the next part, into practice once more.

use serde_json::json;

use super::ListeningError;
use super::course;
use super::draw;
use super::entry::Listening;
use super::hear;
use super::parts::Parts;
use super::screen;
use super::way::Halt;
use super::way::Way;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::store::GateKind;
use crate::store::GateRow;
use crate::store::PresentationRow;
use crate::store::SittingRow;
use crate::store::Writing;
use crate::study::PresentationKind;

/// Goes on from whatever stands before the next word; does nothing where nothing does, and on a
/// day that is full.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before there is a sitting.
pub fn go_on(workspace: &Workspace, cookie: &str, now: Now) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        let sittings = writing.sittings_of(listening.enrolment.id)?;
        let sitting = sittings.last().ok_or(ListeningError::OutOfOrder)?;
        if sitting.ended_ms.is_some() {
            return Ok(());
        }
        let tokens = writing.round_tokens(listening.round.id)?;
        let way = Way::of(writing, &listening, sitting, &tokens)?;
        let Some(next) = way.next() else {
            return Ok(());
        };
        let (kind, place) = match way.halt(&listening.plan, now) {
            None | Some(Halt::Today) => return Ok(()),
            Some(Halt::Rest) => (GateKind::Rest, next.place),
            Some(Halt::Block) => (GateKind::Block, next.place),
            Some(halt @ (Halt::Again | Halt::Away)) => {
                let part = Parts::of(&listening, sitting.number).part(next.block);
                let part = part.ok_or(ListeningError::OutOfOrder)?;
                let first = draw::practise_again(writing, &listening, sitting, part, now)?;
                let kind = match halt {
                    Halt::Away => GateKind::Away,
                    _ => GateKind::Again,
                };
                (kind, first)
            }
        };
        pass(writing, &listening, sitting, kind, place, now)
    })
}

/// Notes that she was told already of the part with which a sitting that was drawn just now begins. If
/// others took its words meanwhile, the part that comes is told first.
pub(super) fn note_told(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    told: u32,
    now: Now,
) -> Result<(), ListeningError> {
    let places = hear::asking(writing.presentations_of(sitting.id)?);
    match places.first() {
        Some(first) if first.block > 1 && first.block == told => pass(
            writing,
            listening,
            sitting,
            GateKind::Block,
            first.place,
            now,
        ),
        _ => Ok(()),
    }
}

fn pass(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    kind: GateKind,
    place: u32,
    now: Now,
) -> Result<(), ListeningError> {
    let gate = GateRow {
        sitting: sitting.id,
        place,
        kind,
        passed_ms: now.ms(),
    };
    if !writing.add_gate(&gate)? {
        return Ok(());
    }
    writing.touch_sitting(sitting.id, now.ms())?;
    let body = json!({
        "listener": listening.enrolment.code,
        "number": sitting.number,
        "place": place,
        "after": kind.as_str(),
    });
    log::append(writing, now, "went on", &body)?;
    Ok(())
}

/// Lets a listener go whose practice was in vain, where the plan says so: the sitting ends, and her
/// words go to others. Says whether it did.
pub(super) fn let_go(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    let own = sittings.iter().find(|sitting| sitting.id == place.sitting);
    let Some(sitting) = own.filter(|sitting| sitting.ended_ms.is_none()) else {
        return Ok(false);
    };
    let tokens = writing.round_tokens(listening.round.id)?;
    let way = Way::of(writing, listening, sitting, &tokens)?;
    if !way.ends_with_practice(&listening.plan, place.block) {
        return Ok(false);
    }
    let heard = writing.heard_by(listening.enrolment.id)?;
    if heard.iter().any(|row| row.kind == PresentationKind::Main) {
        // What she judged counts: no sealed rule speaks against it.
        let dropped = writing.drop_waiting_places(sitting.id)?;
        draw::log_moved(writing, "places dropped", sitting.stream, &dropped, now)?;
        let code = &listening.enrolment.code;
        course::end(writing, code, sitting, screen::SCREENED, now)?;
    } else {
        screen::let_go(writing, listening, sitting, PRACTICE_IN_VAIN, now)?;
    }
    Ok(true)
}

/// Why she was let go whose practice was in vain.
const PRACTICE_IN_VAIN: &str = "the practice was not passed, as often as the plan lets it be tried";
