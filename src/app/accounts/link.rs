//! One-time addresses: of the first account, and of a new password. Whoever is at the machine gets one; there is no
//! default password.

use serde_json::json;

use super::enter;
use super::keep;
use super::keep::Rights;
use super::password::NewPassword;
use super::person::Person;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::store::AccountLink;
use crate::store::Reading;
use crate::study::AccountName;
use crate::study::Role;

/// The address of a new password can be used this long (ours).
const GOOD_FOR_MS: i64 = 24 * 60 * 60 * 1000;

/// What a one-time address is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OneTimeLink {
    /// To make the first account.
    First,
    /// To set the password of the account of this name.
    Password(AccountName),
}

/// The secret of a one-time address for the first account, where nobody can do everything yet; the one before it is
/// void.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn offer_first_link(workspace: &Workspace, now: Now) -> Result<Option<String>, AppError> {
    if workspace.store().read(has_researcher)? {
        return Ok(None);
    }
    workspace.store().write(move |writing| {
        let secret = secret::token();
        writing.offer_account_link(&secret::digest_of(&secret), None, None)?;
        log::append(
            writing,
            now,
            "account link made",
            &json!({ "account": null, "by": null }),
        )?;
        Ok(Some(secret))
    })
}

/// The secret of a one-time address that sets a new password; the one before it is void. The old password stays
/// until it is used.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account.
pub fn offer_password_link(
    workspace: &Workspace,
    name: &AccountName,
    by: Option<&Person>,
    now: Now,
) -> Result<String, AppError> {
    let (name, by) = (name.clone(), keep::code_of(by));
    workspace.store().write(move |writing| {
        let account = keep::named(writing, &name)?;
        let secret = secret::token();
        writing.offer_account_link(
            &secret::digest_of(&secret),
            Some(account.id),
            Some(now.ms() + GOOD_FOR_MS),
        )?;
        let body = json!({ "account": account.code, "by": by });
        log::append(writing, now, "account link made", &body)?;
        Ok(secret)
    })
}

/// What an address with this secret is for, if it is good; looking does not use it up.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn link_opens(
    workspace: &Workspace,
    secret: &str,
    now: Now,
) -> Result<Option<OneTimeLink>, AppError> {
    let digest = secret::digest_of(secret);
    workspace
        .store()
        .read(|reading| opens(reading, &digest, now))
}

/// Makes the first account, who can do everything, and signs her in. Gives the secret for the cookie, or nothing
/// where the address is not good any more.
///
/// # Errors
/// [`AppError::Refused`] if the name is taken.
pub fn first_account(
    workspace: &Workspace,
    secret: &str,
    name: &AccountName,
    password: &NewPassword,
    now: Now,
) -> Result<Option<String>, AppError> {
    let (digest, name, hash) = (secret::digest_of(secret), name.clone(), password.hash()?);
    workspace.store().write(move |writing| {
        if opens(writing, &digest, now)? != Some(OneTimeLink::First) {
            return Ok(None);
        }
        writing.forget_account_links(None)?;
        let account = keep::add(writing, name, Rights::Researcher, Some(hash), None, now)?;
        enter::begin(writing, &account, "link", now).map(Some)
    })
}

/// Sets an account's password, ends all its sessions, and signs it in. Gives the secret for the cookie, or nothing
/// where the address is not good any more.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn set_password_by_link(
    workspace: &Workspace,
    secret: &str,
    password: &NewPassword,
    now: Now,
) -> Result<Option<String>, AppError> {
    let (digest, hash) = (secret::digest_of(secret), password.hash()?);
    workspace.store().write(move |writing| {
        let Some(OneTimeLink::Password(name)) = opens(writing, &digest, now)? else {
            return Ok(None);
        };
        let mut account = keep::named(writing, &name)?;
        writing.forget_account_links(Some(account.id))?;
        account.password = Some(hash);
        let by = account.code.to_string();
        keep::change(writing, account.clone(), "password", Some(&by), now)?;
        enter::end_everywhere(writing, &account, &by, now)?;
        enter::begin(writing, &account, "link", now).map(Some)
    })
}

fn opens(reading: &Reading<'_>, digest: &str, now: Now) -> Result<Option<OneTimeLink>, AppError> {
    match reading.account_link(digest, now.ms())? {
        Some(AccountLink::Password(account)) => {
            let account = reading.account(account)?;
            Ok(account.map(|account| OneTimeLink::Password(account.name)))
        }
        Some(AccountLink::First) if !has_researcher(reading)? => Ok(Some(OneTimeLink::First)),
        _ => Ok(None),
    }
}

/// Whether somebody can sign in who can do everything.
fn has_researcher(reading: &Reading<'_>) -> Result<bool, AppError> {
    let mut accounts = reading.accounts()?.into_iter();
    Ok(accounts.any(|account| account.role == Role::Researcher && account.password.is_some()))
}
