//! Voiding: a word that was cut short while it first sounded counts as nothing and comes back.

use serde_json::json;

use super::ListeningError;
use super::draw;
use super::entry::Listening;
use super::hear;
use super::in_turn;
use super::judge;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Writing;
use crate::study::Place;
use crate::study::PresentationId;
use crate::study::PresentationKind;

/// How often a word comes back (ours). Cut short once more, it is given up in this sitting and its
/// place goes to others, so that an output that always fails does not keep a listener for ever.
const COMES_BACK: usize = 2;

/// Notes that a word was cut short while it first sounded. It is never judged under this name: it
/// comes back at the end of the sitting under a new one, so that neither she nor her browser can
/// tell it from a word that is new. Said again, it changes nothing. Practice is simply played again.
///
/// # Errors
/// [`ListeningError::NotHere`] for a presentation that is not hers;
/// [`ListeningError::Settled`] for a word that was judged or set aside;
/// [`ListeningError::OutOfOrder`] while an earlier word waits; [`ListeningError::Closed`].
pub fn void(
    workspace: &Workspace,
    cookie: &str,
    id: PresentationId,
    now: Now,
) -> Result<Place, ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let (place, places) = judge::hers(writing, &listening, id)?;
        let gone = place.state == PresentationState::Dropped;
        if gone || place.kind == PresentationKind::Practice {
            return hear::progress(writing, &places);
        }
        listening.must_be_open()?;
        if matches!(
            place.state,
            PresentationState::Judged | PresentationState::Aside
        ) {
            return Err(ListeningError::Settled);
        }
        in_turn::refuse_early(&place, &places)?;
        cut_short(writing, &listening, &place, &places, now)?;
        let (place, places) = judge::hers(writing, &listening, id)?;
        judge::end_if_done(writing, &listening, place.sitting, &places, now)?;
        hear::progress(writing, &places)
    })
}

fn cut_short(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    places: &[PresentationRow],
    now: Now,
) -> Result<(), ListeningError> {
    writing.void_presentation(place.id)?;
    writing.touch_sitting(place.sitting, now.ms())?;
    log::append(writing, now, "voided", &json!({"presentation": place.id}))?;
    let sittings = writing.sittings_of(listening.enrolment.id)?;
    let Some(sitting) = sittings.iter().find(|own| own.id == place.sitting) else {
        return Ok(());
    };
    // Its repeat would now come too soon after it, or before it.
    let repeat = Vec::from_iter(draw::drop_its_repeat(writing, place)?);
    draw::log_moved(writing, "places dropped", sitting.stream, &repeat, now)?;
    let before = places
        .iter()
        .filter(|other| other.voided > 0 && other.token == place.token && other.kind == place.kind);
    // A place that was given back already belongs to others.
    if place.state == PresentationState::Reserved && before.count() < COMES_BACK {
        draw::bring_back(writing, listening, sitting, place, now)?;
    }
    Ok(())
}
