//! The round that a person designs: kept for her until it is sealed or forgotten, so that no reload loses anything.

use serde::Deserialize;
use serde::Serialize;

use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::store::AccountId;
use crate::store::Reading;

/// What stands in a form.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundDraft {
    /// The fields in their order; a name may come several times.
    pub fields: Vec<(String, String)>,
    /// Whether its owner has asked what is missing.
    pub asked: bool,
}

/// What a person has in her form; nothing where she designs no round.
///
/// # Errors
/// [`AppError::Store`] if it cannot be read.
pub fn draft(workspace: &Workspace, person: &Person) -> Result<Option<RoundDraft>, AppError> {
    workspace.store().read(|reading| {
        let kept = match account(reading, person)? {
            Some(account) => reading.round_draft(account)?,
            None => None,
        };
        kept.map(|kept| serde_json::from_str(&kept))
            .transpose()
            .map_err(|error| AppError::Unreadable(error.to_string()))
    })
}

/// Keeps what a person has in her form. It is no part of the study: the log tells nothing of it.
///
/// # Errors
/// [`AppError::Refused`] if her account is gone; [`AppError::Store`] if it cannot be written.
pub fn keep_draft(
    workspace: &Workspace,
    person: &Person,
    draft: &RoundDraft,
    now: Now,
) -> Result<(), AppError> {
    let fields =
        serde_json::to_string(draft).map_err(|error| AppError::Unreadable(error.to_string()))?;
    let person = person.clone();
    workspace.store().write(move |writing| {
        let account = account(writing, &person)?.ok_or_else(|| {
            AppError::refused("this account was removed", "sign in with another one")
        })?;
        Ok(writing.keep_round_draft(account, &fields, now.ms())?)
    })
}

/// Forgets what a person has in her form.
///
/// # Errors
/// [`AppError::Store`] if it cannot be removed.
pub fn forget_draft(workspace: &Workspace, person: &Person) -> Result<(), AppError> {
    let person = person.clone();
    workspace.store().write(move |writing| {
        if let Some(account) = account(writing, &person)? {
            writing.forget_round_draft(account)?;
        }
        Ok(())
    })
}

fn account(reading: &Reading<'_>, person: &Person) -> Result<Option<AccountId>, AppError> {
    let row = reading.account_coded(&person.code)?;
    Ok(row.map(|row| row.id))
}
