//! Plays: how often a word was heard to its end. The server holds the count, so that the plan's limit
//! holds over reloads and devices.

use super::ListeningError;
use super::entry::Listening;
use super::judge;
use crate::app::Now;
use crate::app::Workspace;
use crate::study::Plan;
use crate::study::PlayName;
use crate::study::PresentationId;

/// More plays of one word than any page reports; further ones are not noted.
const MOST_PLAYS: u32 = 1000;

/// Notes that a word was played to its end, and says how often it was in all. The same play again
/// changes nothing. A play has no event of its own: the answer that counts it has one, and a word
/// that gets no answer yields nothing.
///
/// # Errors
/// [`ListeningError::NotHere`] for a presentation that is not hers; [`ListeningError::Closed`].
pub fn played(
    workspace: &Workspace,
    cookie: &str,
    id: PresentationId,
    name: PlayName,
    now: Now,
) -> Result<u32, ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let (place, _) = judge::hers(writing, &listening, id)?;
        listening.must_be_open()?;
        if writing.n_plays(place.id)? < MOST_PLAYS {
            writing.add_play(place.id, name)?;
        }
        Ok(writing.n_plays(place.id)?)
    })
}

/// How often a word was played again.
pub(super) const fn replays(plays: u32) -> u32 {
    plays.saturating_sub(1)
}

/// Whether a word may be played, the first time or again.
pub(super) const fn may_play(plan: &Plan, plays: u32) -> bool {
    plays <= plan.sitting.replays
}
