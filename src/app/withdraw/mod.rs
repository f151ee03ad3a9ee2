//! Taking a child out of a study: out of use, or erased. And erasing a listener.
//!
//! Out of use: recordings and judgements stay in the file and in no result. Erased: they are gone,
//! from the database's pages and its write-ahead log too, with every export that lies in the study's
//! folder; the log says that it happened and not to whom. What waits of the child in an open round is
//! dropped, and no listener is told.

mod erase;
mod files;
mod finish;
mod preview;

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::consent;
use super::listening;
use super::log;
use super::secret;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::TokenRow;
use crate::study::ChildCode;

pub use erase::Erased;
pub use erase::erase_child;
pub use erase::erase_child_by;
pub use erase::erase_listener;
pub use erase::erase_listener_by;
pub(super) use finish::finish;
pub use preview::Copied;
pub use preview::Hearing;
pub use preview::ListenerPreview;
pub use preview::Preview;
pub use preview::preview;
pub use preview::preview_listener;

/// The event of a child taken out of use.
pub(super) const CHILD_STOPPED: &str = "child out of use";

/// The event of a child who was erased.
pub(super) const CHILD_ERASED: &str = "child erased";

/// The event of a listener who was erased.
pub(super) const LISTENER_ERASED: &str = "listener erased";

/// Takes a child out of use: recordings and judgements are kept, and are in no result. Gives the
/// receipt of the log.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child or she is out of use already.
pub fn stop_using_child(
    workspace: &Workspace,
    code: &ChildCode,
    now: Now,
) -> Result<String, AppError> {
    stop_using(workspace, code, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`stop_using_child`].
pub fn stop_using_child_by(
    workspace: &Workspace,
    code: &ChildCode,
    by: &Person,
    now: Now,
) -> Result<String, AppError> {
    stop_using(workspace, code, Some(by), now)
}

fn stop_using(
    workspace: &Workspace,
    code: &ChildCode,
    by: Option<&Person>,
    now: Now,
) -> Result<String, AppError> {
    let (code, by) = (code.clone(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let known = consent::known_child(writing, &code)?;
        let child = known.map_or_else(|| consent::child_of(writing, &code), Ok)?;
        if consent::stopped(writing)?.contains(&code) {
            return Err(AppError::refused(
                format!("{code} is out of use already"),
                "erase her if nothing is to be kept",
            ));
        }
        let salt = secret::salt();
        writing.stop_child(child, now.ms(), &salt)?;
        let rows = [stopped_digest(&salt, &code)?];
        let body = log::by(json!({"rows": rows}), by.as_deref());
        log::append(writing, now, CHILD_STOPPED, &body)?;
        listening::drop_unused(writing, now)?;
        Ok(writing.head()?.receipt().to_string())
    })
}

/// What the log says of a child out of use: a salted digest of her code.
pub(super) fn stopped_digest(salt: &Salt, code: &ChildCode) -> Result<Digest, AppError> {
    Ok(seal::commit(
        salt,
        &log::canonical(&json!({"child": code}))?,
    ))
}

/// Whether a token is a child's: recorded in a session of hers, or spoken by her as an example.
fn is_hers(token: &TokenRow, code: &ChildCode) -> bool {
    token.key.child.as_ref() == Some(code)
}
