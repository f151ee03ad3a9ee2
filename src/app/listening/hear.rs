//! Hearing: what comes next, and its sound.

use super::ListeningError;
use super::entry::Listening;
use super::play;
use super::sound::Sound;
use super::take_up;
use super::way;
use super::way::Way;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::files;
use crate::audio::flac;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Reading;
use crate::store::RoundTokenRow;
use crate::study::Place;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::Presented;
use crate::study::RoundState;

/// How many presentations a browser may know at once: the current one and two to load ahead.
const AHEAD: usize = 3;

/// The current presentation and at most two more; none when the sitting is done.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before the sitting was drawn, and where the sound of this browser was not checked; [`ListeningError::Closed`].
pub fn ahead(
    workspace: &Workspace,
    cookie: &str,
    now: Now,
) -> Result<Vec<Presented>, ListeningError> {
    let gave_back = workspace.store().read(|reading| {
        let listening = Listening::active(reading, cookie, now)?;
        let places = sitting_places(reading, &listening)?;
        Ok::<_, ListeningError>(
            places
                .iter()
                .any(|place| place.state == PresentationState::Returned),
        )
    })?;
    if gave_back {
        take_up(workspace, cookie, now)?;
    }
    workspace.store().read(|reading| {
        let listening = Listening::active(reading, cookie, now)?;
        if Sound::of(reading, &listening)? != Sound::Does {
            return Err(ListeningError::OutOfOrder);
        }
        let tokens = reading.round_tokens(listening.round.id)?;
        let place = progress(reading, &sitting_places(reading, &listening)?)?;
        let coming = coming(reading, &listening, &tokens, now)?;
        let show_word = listening.plan.sitting.show_word;
        presented(reading, &coming, place, &tokens, show_word)
    })
}

/// The next words of the listener's last sitting that a browser may know: none at a halt, and none
/// beyond the next one.
fn coming(
    reading: &Reading<'_>,
    listening: &Listening,
    tokens: &[RoundTokenRow],
    now: Now,
) -> Result<Vec<PresentationRow>, ListeningError> {
    let sittings = reading.sittings_of(listening.enrolment.id)?;
    let sitting = sittings.last().ok_or(ListeningError::OutOfOrder)?;
    let way = Way::of(reading, listening, sitting, tokens)?;
    let mut coming: Vec<_> = way
        .stretch(&listening.plan, now)
        .into_iter()
        .cloned()
        .collect();
    coming.truncate(AHEAD);
    Ok(coming)
}

fn take_up(workspace: &Workspace, cookie: &str, now: Now) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        match writing.sittings_of(listening.enrolment.id)?.last() {
            Some(sitting) => take_up::take_up_again(writing, &listening, sitting, now),
            None => Ok(()),
        }
    })
}

/// The places of the listener's last sitting that ask something, in their order.
pub(super) fn sitting_places(
    reading: &Reading<'_>,
    listening: &Listening,
) -> Result<Vec<PresentationRow>, ListeningError> {
    if listening.enrolment.instructed_ms.is_none() {
        return Err(ListeningError::OutOfOrder);
    }
    let sittings = reading.sittings_of(listening.enrolment.id)?;
    let sitting = sittings.last().ok_or(ListeningError::OutOfOrder)?;
    Ok(asking(reading.presentations_of(sitting.id)?))
}

/// The places that ask something, in the order of hearing, those left out that will never be heard.
pub(super) fn asking(mut places: Vec<PresentationRow>) -> Vec<PresentationRow> {
    places.retain(|place| {
        place.kind != PresentationKind::Example && place.state != PresentationState::Dropped
    });
    places.sort_by_key(way::turn);
    places
}

/// Where a sitting has come to, by its places that ask something.
pub(super) fn progress(
    reading: &Reading<'_>,
    places: &[PresentationRow],
) -> Result<Place, ListeningError> {
    let done = places.iter().filter(|place| {
        matches!(
            place.state,
            PresentationState::Judged | PresentationState::Aside
        )
    });
    let shown = match places.first() {
        Some(place) => reading.words_of_sitting(place.sitting)?,
        None => 0,
    };
    // A late answer to a word that was given away makes one more.
    let there = places.iter().filter(|place| {
        place.kind != PresentationKind::Example && place.state != PresentationState::Dropped
    });
    let there = u32::try_from(there.count()).unwrap_or(shown);
    Ok(Place {
        done: u32::try_from(done.count()).unwrap_or(shown),
        of: shown.max(there),
    })
}

fn presented(
    reading: &Reading<'_>,
    coming: &[PresentationRow],
    place: Place,
    tokens: &[RoundTokenRow],
    show_word: bool,
) -> Result<Vec<Presented>, ListeningError> {
    let mut told = Vec::new();
    for (row, done) in coming.iter().zip(place.done..) {
        if let Some(token) = tokens.iter().find(|token| token.id == row.token) {
            told.push(Presented {
                id: row.id,
                word: show_word.then(|| token.word.clone()),
                place: Place { done, of: place.of },
                practice: row.kind == PresentationKind::Practice,
                plays: reading.n_plays(row.id)?,
            });
        }
    }
    Ok(told)
}

/// The prepared sound of a presentation as a whole FLAC file: only of what is played before the
/// sitting, of the word that is being judged, of the last one judged, and of the next two, while
/// they may still be played.
///
/// # Errors
/// [`ListeningError::NotHere`] for everything else.
pub fn audio(
    workspace: &Workspace,
    cookie: &str,
    id: PresentationId,
    now: Now,
) -> Result<Vec<u8>, ListeningError> {
    let sha256 = workspace.store().read(|reading| {
        let listening = Listening::of(reading, cookie, now)?;
        if listening.round.state != RoundState::Open {
            return Err(ListeningError::Closed);
        }
        let row = reading
            .presentation_for(listening.enrolment.id, id)?
            .ok_or(ListeningError::NotHere)?;
        if row.state == PresentationState::Dropped {
            return Err(ListeningError::NotHere);
        }
        let tokens = reading.round_tokens(listening.round.id)?;
        if row.kind != PresentationKind::Example {
            let places = sitting_places(reading, &listening)?;
            let coming = coming(reading, &listening, &tokens, now)?;
            let last = places
                .iter()
                .rfind(|place| place.state == PresentationState::Judged);
            let asked = coming.iter().chain(last).any(|place| place.id == id);
            if !asked || !play::may_play(&listening.plan, reading.n_plays(id)?) {
                return Err(ListeningError::NotHere);
            }
        }
        // The last word may still be heard again, unless it went out of use meanwhile.
        let token = tokens
            .into_iter()
            .find(|token| token.id == row.token && token.in_use);
        token
            .map(|token| token.audio_sha256)
            .ok_or(ListeningError::NotHere)
    })?;
    let prepared = files::read(&workspace.prepared(&sha256))?;
    flac::of_wav(&prepared).map_err(|error| AppError::Unreadable(error).into())
}
