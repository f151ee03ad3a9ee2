//! Signing in and out. A session is a random secret in a browser's cookie; its digest lies in the store, so that it
//! can be ended from here.

use std::net::IpAddr;

use serde_json::json;

use super::held_off::Try;
use super::keep;
use super::password;
use super::person::Person;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::store::AccountRow;
use crate::store::Writing;
use crate::study::AccountName;

/// A session ends after this time without a page (ours): a machine that was left alone.
const IDLE_MS: i64 = 60 * 60 * 1000;

/// And after this time in any case (ours): a working day.
const LONGEST_MS: i64 = 12 * 60 * 60 * 1000;

/// That a session was heard of is written at most this often.
const TOUCH_MS: i64 = 60 * 1000;

/// What came of a try to sign in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SignIn {
    /// The person is in; this is the secret for her browser's cookie, a fresh one each time.
    In(String),
    /// Name or password is wrong; which, is not told.
    Wrong,
    /// There were too many tries lately; nothing was looked at.
    HeldOff,
}

/// Tries to sign in. `from`: the address of the browser. Takes its time, for a password's hash does.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read or written.
pub fn sign_in(
    workspace: &Workspace,
    name: &str,
    password: &str,
    from: IpAddr,
    now: Now,
) -> Result<SignIn, AppError> {
    let name = name.trim().to_owned();
    let (account, may) = workspace.store().write({
        let tried = Try::new(&name, from);
        let name = name.clone();
        move |writing| {
            let account = writing.account_named(&name)?;
            let code = account.as_ref().map(|account| account.code.as_str());
            let may = tried.count(writing, code, now)?;
            Ok::<_, AppError>((account, may))
        }
    })?;
    if !may {
        return Ok(SignIn::HeldOff);
    }
    let right = if let Some(account) = &account {
        password::is_right(account, password)
    } else {
        password::spend_the_time(password);
        false
    };
    let tried = Try::new(&name, from);
    workspace.store().write(move |writing| {
        // Meanwhile it may have been removed, or have got another password.
        let now_there = match &account {
            Some(account) => writing.account(account.id)?,
            None => None,
        };
        let unchanged = now_there.as_ref().map(|now| &now.password)
            == account.as_ref().map(|then| &then.password);
        match now_there {
            Some(account) if right && unchanged => {
                tried.forget(writing)?;
                begin(writing, &account, "password", now).map(SignIn::In)
            }
            account => {
                let body = json!({ "account": account.map(|account| account.code) });
                log::append(writing, now, "sign-in failed", &body)?;
                Ok(SignIn::Wrong)
            }
        }
    })
}

/// Signs an account in that has no password: that of a demonstration. Gives the secret for the cookie.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account, or it has a password.
pub fn sign_in_without_password(
    workspace: &Workspace,
    name: &AccountName,
    now: Now,
) -> Result<String, AppError> {
    let name = name.clone();
    workspace.store().write(move |writing| {
        let account = keep::named(writing, &name)?;
        if account.password.is_some() {
            return Err(AppError::refused(
                "this account has a password",
                "sign in with it",
            ));
        }
        begin(writing, &account, "demonstration", now)
    })
}

/// Whose session this is, if it goes on; that it was heard of is noted.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read or written.
pub fn whose_session(
    workspace: &Workspace,
    secret: &str,
    now: Now,
) -> Result<Option<Person>, AppError> {
    let digest = secret::digest_of(secret);
    let Some((last_ms, person)) = found(workspace, &digest, now)? else {
        return Ok(None);
    };
    if now.ms() >= last_ms + TOUCH_MS {
        workspace
            .store()
            .write(move |writing| writing.touch_session_of_account(&digest, now.ms()))?;
    }
    Ok(Some(person))
}

/// The same for a page that asks by itself: it does not keep a session going that nobody uses.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn who_is_there(
    workspace: &Workspace,
    secret: &str,
    now: Now,
) -> Result<Option<Person>, AppError> {
    let found = found(workspace, &secret::digest_of(secret), now)?;
    Ok(found.map(|(_, person)| person))
}

/// Whose session this is if it goes on, and when it was last heard of.
fn found(workspace: &Workspace, digest: &str, now: Now) -> Result<Option<(i64, Person)>, AppError> {
    workspace.store().read(|reading| {
        let Some(session) = reading.session_of_account(digest)? else {
            return Ok(None);
        };
        let goes_on =
            now.ms() < session.begun_ms + LONGEST_MS && now.ms() < session.last_ms + IDLE_MS;
        let Some(account) = reading.account(session.account)?.filter(|_| goes_on) else {
            return Ok(None);
        };
        let person = Person {
            children: keep::children_of(reading, &account)?,
            code: account.code.to_string(),
            name: account.name.to_string(),
            role: account.role,
        };
        Ok(Some((session.last_ms, person)))
    })
}

/// Ends a session.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn sign_out(workspace: &Workspace, secret: &str, now: Now) -> Result<(), AppError> {
    let digest = secret::digest_of(secret);
    workspace.store().write(move |writing| {
        let session = writing.session_of_account(&digest)?;
        writing.end_session_of_account(&digest)?;
        let account = match session {
            Some(session) => writing.account(session.account)?,
            None => None,
        };
        if let Some(account) = account {
            let body = json!({ "account": account.code });
            log::append(writing, now, "signed out", &body)?;
        }
        Ok(())
    })
}

/// Ends every session of an account.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account.
pub fn sign_out_everywhere(
    workspace: &Workspace,
    code: &str,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    let (code, by) = (code.to_owned(), by.code.clone());
    workspace.store().write(move |writing| {
        let account = keep::coded(writing, &code)?;
        end_everywhere(writing, &account, &by, now)
    })
}

/// Ends every session of an account inside a job that writes.
pub(super) fn end_everywhere(
    writing: &Writing<'_>,
    account: &AccountRow,
    by: &str,
    now: Now,
) -> Result<(), AppError> {
    let sessions = writing.end_sessions_of_account(account.id)?;
    let body = json!({ "account": account.code, "sessions": sessions, "by": by });
    log::append(writing, now, "signed out everywhere", &body)?;
    Ok(())
}

/// Begins a session and gives the secret for the cookie.
pub(super) fn begin(
    writing: &Writing<'_>,
    account: &AccountRow,
    how: &str,
    now: Now,
) -> Result<String, AppError> {
    writing.end_old_sessions_of_accounts(now.ms() - LONGEST_MS, now.ms() - IDLE_MS)?;
    let secret = secret::session();
    writing.begin_session_of_account(&secret::digest_of(&secret), account.id, now.ms())?;
    let body = json!({ "account": account.code, "how": how });
    log::append(writing, now, "signed in", &body)?;
    Ok(secret)
}
