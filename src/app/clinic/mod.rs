//! What a clinician may read: the outcome of a child, once a round in which she was heard is unlocked.

mod caseload;
mod hear;
// Behind a link, without signing in.
pub(super) mod shared;

use std::collections::BTreeSet;

use super::AppError;
use super::Workspace;
use super::findings;
use super::looks;
use super::results;
use crate::analysis::RoundFindings;
use crate::study::ChildCode;
use crate::study::Unlocked;

pub use caseload::Case;
pub use caseload::Caseload;
pub use caseload::caseload;
pub use hear::SessionToHear;
pub use hear::hear_of_child;
pub use hear::words_of_child;
pub use shared::Opened;
pub use shared::SharedPage;
pub use shared::USUAL_DAYS;
pub use shared::VISIT_MINUTES;
pub use shared::open_shared_page;
pub use shared::share_page;
pub use shared::shared_pages;
pub use shared::take_back_page;

/// What is known of a child, and the findings of the latest unlocked round in which she was heard.
pub struct ChildOutcome {
    /// The findings, where there is such a round.
    pub findings: Option<RoundFindings>,
    /// Her age in months at her last session where it is known, with that session.
    pub age: Option<(u32, u32)>,
}

/// The outcome of a child.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child, or she is a peer; [`AppError::Store`] or
/// [`AppError::Unreadable`] if the study cannot be read.
pub fn outcome_of_child(
    workspace: &Workspace,
    child: &ChildCode,
) -> Result<ChildOutcome, AppError> {
    let age = age(workspace, child)?;
    let mut rounds = unlocked_rounds(workspace)?;
    while let Some(unlocked) = rounds.pop() {
        if is_heard(workspace, &unlocked, child)? {
            let found = findings::findings(workspace, &unlocked)?;
            return Ok(ChildOutcome {
                findings: Some(found.round),
                age,
            });
        }
    }
    Ok(ChildOutcome {
        findings: None,
        age,
    })
}

/// The rounds whose results may be seen, in the order in which they were unlocked.
pub(super) fn unlocked_rounds(workspace: &Workspace) -> Result<Vec<Unlocked>, AppError> {
    workspace.store().read(|reading| {
        let events = reading.events()?;
        let rounds = reading.rounds()?;
        let mut seen = BTreeSet::new();
        Ok(events
            .iter()
            .filter(|row| row.event.kind == looks::UNLOCKED)
            .filter_map(looks::round_of)
            .filter(|name| seen.insert(name.clone()))
            .filter_map(|name| {
                let round = rounds.iter().find(|round| round.name.as_str() == name)?;
                Unlocked::of(round.name.clone(), round.state)
            })
            .collect())
    })
}

fn is_heard(
    workspace: &Workspace,
    unlocked: &Unlocked,
    child: &ChildCode,
) -> Result<bool, AppError> {
    let record = results::record(workspace, unlocked)?;
    let mut tokens = record.tokens.iter().filter(|token| !token.link);
    Ok(tokens.any(|token| token.key.use_.is_scored() && token.key.child.as_ref() == Some(child)))
}

/// Whether the study has a child of that code who is treated.
///
/// # Errors
/// [`AppError::Refused`] if it has not; [`AppError::Store`] if the study cannot be read.
pub fn check_child(workspace: &Workspace, child: &ChildCode) -> Result<(), AppError> {
    age(workspace, child).map(|_| ())
}

/// The findings of the round that was unlocked last; nothing where none is.
///
/// # Errors
/// [`AppError::Store`] or [`AppError::Unreadable`] if the study cannot be read.
pub fn outcome_of_study(workspace: &Workspace) -> Result<Option<RoundFindings>, AppError> {
    let latest = unlocked_rounds(workspace)?.pop();
    let found = latest.map(|unlocked| findings::findings(workspace, &unlocked));
    Ok(found.transpose()?.map(|found| found.round))
}

/// Her last known age in months, with its session.
fn age(workspace: &Workspace, child: &ChildCode) -> Result<Option<(u32, u32)>, AppError> {
    workspace.store().read(|reading| {
        let known = reading
            .children()?
            .into_iter()
            .find(|known| known.code == *child && !known.peer)
            .ok_or_else(|| {
                AppError::refused(
                    "this study has no such child",
                    "take the code from the study's page",
                )
            })?;
        let sessions = reading.sessions()?.into_iter();
        Ok(sessions
            .filter(|session| session.child == known.id)
            .filter_map(|session| Some((session.age_months?, session.ordinal)))
            .next_back())
    })
}
