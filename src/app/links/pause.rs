//! Pausing a round, and letting it go on.

use serde_json::json;

use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::log;
use crate::app::round;
use crate::study::RoundName;
use crate::study::RoundState;

/// A round that was paused, or that goes on.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Paused {
    /// Its name.
    pub round: RoundName,
    /// Whether it is paused now.
    pub paused: bool,
    /// Where the log stands now, short: to be deposited elsewhere.
    pub receipt: String,
}

/// Pauses an open round: nobody new begins and no further word is handed out. An answer to a word
/// that a listener already has is still taken.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round, it is not open, or it is paused already.
pub fn pause(workspace: &Workspace, round: &RoundName, now: Now) -> Result<Paused, AppError> {
    set(workspace, round, Wanted::Paused, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`pause`].
pub fn pause_by(
    workspace: &Workspace,
    round: &RoundName,
    by: &Person,
    now: Now,
) -> Result<Paused, AppError> {
    set(workspace, round, Wanted::Paused, Some(by), now)
}

/// Lets a paused round go on.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round, it is not open, or it is not paused.
pub fn resume(workspace: &Workspace, round: &RoundName, now: Now) -> Result<Paused, AppError> {
    set(workspace, round, Wanted::GoingOn, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`resume`].
pub fn resume_by(
    workspace: &Workspace,
    round: &RoundName,
    by: &Person,
    now: Now,
) -> Result<Paused, AppError> {
    set(workspace, round, Wanted::GoingOn, Some(by), now)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Paused,
    GoingOn,
}

fn set(
    workspace: &Workspace,
    name: &RoundName,
    wanted: Wanted,
    by: Option<&Person>,
    now: Now,
) -> Result<Paused, AppError> {
    let (name, by) = (name.clone(), by.map(|by| by.code.clone()));
    let paused = wanted == Wanted::Paused;
    let (event, said) = match wanted {
        Wanted::Paused => ("round paused", "paused already"),
        Wanted::GoingOn => ("round resumed", "not paused"),
    };
    workspace.store().write(move |writing| {
        let round = round::named(writing, &name)?;
        if round.state != RoundState::Open {
            return Err(AppError::refused(
                format!("round {name} is {}", round.state),
                "only a round that is open can pause or go on",
            ));
        }
        if round.paused == paused {
            return Err(AppError::refused(
                format!("round {name} is {said}"),
                "there is nothing left to do",
            ));
        }
        writing.set_paused(round.id, paused)?;
        let head = log::append(
            writing,
            now,
            event,
            &log::by(json!({"round": name}), by.as_deref()),
        )?;
        Ok(Paused {
            round: name,
            paused,
            receipt: head.receipt().to_string(),
        })
    })
}
