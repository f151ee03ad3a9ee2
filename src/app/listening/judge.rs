//! Judging: an answer is recorded once, may be revised, and is acknowledged when it is on the disk.

use serde_json::json;

use super::ListeningError;
use super::between;
use super::course;
use super::draw;
use super::entry::Listening;
use super::extras;
use super::hear;
use super::in_turn;
use super::play;
use super::screen;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::seal;
use crate::seal::Digest;
use crate::store::JudgementRow;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::RoundTokenRow;
use crate::store::SittingId;
use crate::store::Writing;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::Place;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::SetAside;

/// An answer as the browser sends it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answered {
    /// What she heard.
    pub answer: Judgement,
    /// Counted from 1; a higher one is a changed answer.
    pub revision: u32,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
    /// The grain of the clock that measured it, in milliseconds.
    pub rt_grain_ms: Option<u32>,
    /// How often the word was played again, as far as this browser knows.
    pub replays: u32,
}

/// What she is told once her answer is on the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Recorded {
    /// The known answer, in practice alone.
    pub feedback: Option<KnownAnswer>,
    /// Where the sitting has come to.
    pub place: Place,
}

/// Records an answer. The same again gives the same; a changed answer carries the next revision
/// and is taken until she went on: heard a later word, or began to.
///
/// # Errors
/// [`ListeningError::NotHere`] for a presentation that is not hers;
/// [`ListeningError::Conflict`] for another answer under a revision that is recorded;
/// [`ListeningError::Settled`] for a change that comes too late or that the plan does not allow;
/// [`ListeningError::OutOfOrder`] while an earlier word waits;
/// [`ListeningError::TooManyReplays`]; [`ListeningError::Closed`].
pub fn judge(
    workspace: &Workspace,
    cookie: &str,
    id: PresentationId,
    answered: Answered,
    now: Now,
) -> Result<Recorded, ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let (place, mut places) = hers(writing, &listening, id)?;
        let earlier = writing.judgements_of(id)?;
        let said_before = earlier.iter().find(|row| row.revision == answered.revision);
        if let Some(row) = said_before {
            if !says(row, answered) {
                return Err(ListeningError::Conflict);
            }
            return recorded(writing, &listening, &place, &places);
        }
        listening.must_be_open()?;
        // What another browser played is no fault of this one.
        let held = play::replays(writing.n_plays(id)?);
        if answered.replays > listening.plan.sitting.replays.max(held) {
            return Err(ListeningError::TooManyReplays);
        }
        in_turn::check(writing, &listening, &place, &places, &earlier, answered)?;
        let replays = answered.replays.max(held);
        let answered = Answered {
            replays,
            ..answered
        };
        write(writing, &listening, &place, answered, now)?;
        settle(&mut places, id, PresentationState::Judged);
        if screen::look(writing, &listening, &place, now)? {
            places = hers(writing, &listening, id)?.1;
        } else {
            end_or_let_go(writing, &listening, &place, &places, now)?;
        }
        recorded(writing, &listening, &place, &places)
    })
}

/// Her presentation of that name, if it asks anything, and all that its sitting asks.
pub(super) fn hers(
    writing: &Writing<'_>,
    listening: &Listening,
    id: PresentationId,
) -> Result<(PresentationRow, Vec<PresentationRow>), ListeningError> {
    let place = writing
        .presentation_for(listening.enrolment.id, id)?
        .filter(|place| place.kind != PresentationKind::Example)
        .ok_or(ListeningError::NotHere)?;
    let mut places = writing.presentations_of(place.sitting)?;
    places.retain(|other| other.kind != PresentationKind::Example);
    Ok((place, places))
}

/// Whether a row holds that answer. Its replays may be more than the browser knew of.
fn says(row: &JudgementRow, answered: Answered) -> bool {
    answered.replays <= row.replays
        && answered
            == Answered {
                answer: row.answer,
                revision: row.revision,
                rt_ms: row.rt_ms,
                rt_grain_ms: row.rt_grain_ms,
                replays: answered.replays,
            }
}

fn write(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    answered: Answered,
    now: Now,
) -> Result<(), ListeningError> {
    let row = JudgementRow {
        presentation: place.id,
        revision: answered.revision,
        answer: answered.answer,
        rt_ms: answered.rt_ms,
        rt_grain_ms: answered.rt_grain_ms,
        replays: answered.replays,
        received_ms: now.ms(),
        salt: secret::salt(),
    };
    writing.add_judgement(&row)?;
    writing.move_presentation(place.id, PresentationState::Judged, None)?;
    writing.touch_sitting(place.sitting, now.ms())?;
    let body = json!({
        "presentation": place.id,
        "revision": row.revision,
        "row": judgement_digest(&row)?,
    });
    log::append(writing, now, "judgement", &body)?;
    log_excess(writing, listening, place, now)
}

/// What has become of a place, in what was read before.
fn settle(places: &mut [PresentationRow], id: PresentationId, state: PresentationState) {
    if let Some(place) = places.iter_mut().find(|place| place.id == id) {
        place.state = state;
    }
}

/// What the log says of a judgement: a salted digest of its row.
pub(in crate::app) fn judgement_digest(row: &JudgementRow) -> Result<Digest, AppError> {
    let value = json!({
        "presentation": row.presentation,
        "revision": row.revision,
        "answer": row.answer,
        "rt_ms": row.rt_ms,
        "rt_grain_ms": row.rt_grain_ms,
        "replays": row.replays,
        "received_ms": row.received_ms,
    });
    Ok(seal::commit(&row.salt, &log::canonical(&value)?))
}

/// A judgement that came late can make one more than was planned: it is kept, and said.
fn log_excess(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    now: Now,
) -> Result<(), ListeningError> {
    let was_away = matches!(
        place.state,
        PresentationState::Returned | PresentationState::Dropped
    );
    if place.kind != PresentationKind::Main || !was_away {
        return Ok(());
    }
    let planned = listening.plan.listeners.judgements_per_token;
    let standings = writing.standings(listening.round.id, listening.enrolment.listener)?;
    let excess = standings
        .iter()
        .any(|standing| standing.token == place.token && standing.committed > planned);
    if excess {
        log::append(
            writing,
            now,
            "more than planned",
            &json!({"presentation": place.id}),
        )?;
    }
    Ok(())
}

/// After a word: the sitting ends with its last one, and with practice that was in vain.
fn end_or_let_go(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    places: &[PresentationRow],
    now: Now,
) -> Result<(), ListeningError> {
    let practises = place.kind == PresentationKind::Practice;
    if practises && between::let_go(writing, listening, place, now)? {
        return Ok(());
    }
    end_if_done(writing, listening, place.sitting, places, now)
}

pub(super) fn end_if_done(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: SittingId,
    places: &[PresentationRow],
    now: Now,
) -> Result<(), ListeningError> {
    let waits = places.iter().any(|place| {
        matches!(
            place.state,
            PresentationState::Reserved | PresentationState::Returned
        )
    });
    if waits {
        return Ok(());
    }
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    let Some(sitting) = sittings.iter().find(|own| own.id == sitting) else {
        return Ok(());
    };
    let ended = course::end(
        writing,
        &listening.enrolment.code,
        sitting,
        course::DONE,
        now,
    )?;
    // The next sitting waits for her, if the plan lets her do another.
    if ended && sitting.number < listening.plan.listeners.sittings {
        draw::make_room(writing, listening, now)?;
    }
    Ok(())
}

fn recorded(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    places: &[PresentationRow],
) -> Result<Recorded, ListeningError> {
    let feedback = if place.kind == PresentationKind::Practice {
        token_of(writing, listening, place)?.answer
    } else {
        None
    };
    Ok(Recorded {
        feedback,
        place: hear::progress(writing, places)?,
    })
}

pub(super) fn token_of(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
) -> Result<RoundTokenRow, ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    tokens
        .into_iter()
        .find(|token| token.id == place.token)
        .ok_or(ListeningError::NotHere)
}

/// Sets the current word aside: it is never a 'distorted', and its place is offered to others. With
/// [`SetAside::KnownSpeaker`] the listener hears no more of that child.
///
/// # Errors
/// As for [`judge`]; [`ListeningError::Settled`] for a word that was judged.
pub fn set_aside(
    workspace: &Workspace,
    cookie: &str,
    id: PresentationId,
    reason: SetAside,
    now: Now,
) -> Result<Place, ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let (place, places) = hers(writing, &listening, id)?;
        let said_before = place.state == PresentationState::Aside && place.aside == Some(reason);
        if !said_before {
            listening.must_be_open()?;
        }
        match place.state {
            PresentationState::Aside if said_before => {}
            PresentationState::Aside => return Err(ListeningError::Conflict),
            PresentationState::Judged => return Err(ListeningError::Settled),
            PresentationState::Dropped => return Err(ListeningError::NotHere),
            _ => {
                in_turn::refuse_early(&place, &places)?;
                put_aside(writing, &listening, &place, reason, now)?;
            }
        }
        let (place, places) = hers(writing, &listening, id)?;
        end_or_let_go(writing, &listening, &place, &places, now)?;
        hear::progress(writing, &places)
    })
}

fn put_aside(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    reason: SetAside,
    now: Now,
) -> Result<(), ListeningError> {
    writing.move_presentation(place.id, PresentationState::Aside, Some(reason))?;
    writing.touch_sitting(place.sitting, now.ms())?;
    let body = json!({"presentation": place.id, "reason": reason});
    log::append(writing, now, "set aside", &body)?;
    let mut dropped = Vec::from_iter(draw::drop_its_repeat(writing, place)?);
    let child = token_of(writing, listening, place)?.child;
    if let (SetAside::KnownSpeaker, Some(child)) = (reason, child) {
        writing.bar(
            listening.enrolment.listener,
            child,
            "known-speaker",
            now.ms(),
        )?;
        dropped.extend(extras::end_speaker(writing, listening, child, now)?);
    }
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    let stream = sittings.iter().find(|sitting| sitting.id == place.sitting);
    let stream = stream.map_or(0, |sitting| sitting.stream);
    draw::log_moved(writing, "places dropped", stream, &dropped, now)
}
