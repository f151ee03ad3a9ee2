//! What was refused at the desk, for the log. An event names a route as the program knows it, never an address.

use std::net::IpAddr;

use serde_json::json;

use super::held_off::Try;
use super::person::Person;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;

/// Notes that somebody who is signed in asked for what is not for her.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn note_refused(
    workspace: &Workspace,
    person: &Person,
    route: &str,
    now: Now,
) -> Result<(), AppError> {
    let body = json!({ "account": person.code, "route": route });
    workspace.store().write(move |writing| {
        log::append(writing, now, "access refused", &body)?;
        Ok(())
    })
}

/// What somebody was refused who is not signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stranger {
    /// A one-time address that is not good.
    Link,
    /// A form that another site sent.
    OtherSite,
}

impl Stranger {
    const fn kind(self) -> &'static str {
        match self {
            Self::Link => "account link refused",
            Self::OtherSite => "other site refused",
        }
    }
}

/// Notes what a stranger was refused: a few times in some minutes from one address, so that nobody can flood the log.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn note_stranger(
    workspace: &Workspace,
    what: Stranger,
    from: IpAddr,
    now: Now,
) -> Result<(), AppError> {
    // No account can have this name.
    let tried = Try::new(&format!("\u{0}{}", what.kind()), from);
    workspace.store().write(move |writing| {
        if tried.count(writing, None, now)? {
            log::append(writing, now, what.kind(), &json!({}))?;
        }
        Ok(())
    })
}
