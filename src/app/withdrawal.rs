//! A listener withdraws by her receipt: nothing that she judged stands in any result from then on.

use std::str::FromStr;

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::log;
use super::secret;
use crate::seal;
use crate::seal::Digest;
use crate::seal::ReceiptHead;
use crate::seal::Salt;

/// What became of a listener's wish to withdraw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Withdrawal {
    /// She is out of every result.
    Done {
        /// Where the log stands now, short: to be deposited elsewhere.
        receipt: String,
    },
    /// She was before.
    Before,
    /// The text is no receipt: a sign is missing or mistyped.
    Mistyped,
    /// It is a receipt, and no listener of this study was given it.
    Unknown,
}

/// Withdraws the listener who was given that receipt. Her judgements stay in the study, where the
/// log vouches for them, and stand in no result, report or export. The log tells that a listener
/// withdrew; who it was can be told by the salt beside her row alone.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be written.
pub fn withdraw_listener(
    workspace: &Workspace,
    receipt: &str,
    now: Now,
) -> Result<Withdrawal, AppError> {
    withdraw(workspace, receipt, None, now)
}

/// The same where somebody at the desk does it for her: the log tells who did it.
///
/// # Errors
/// As for [`withdraw_listener`].
pub fn withdraw_listener_by(
    workspace: &Workspace,
    receipt: &str,
    by: &Person,
    now: Now,
) -> Result<Withdrawal, AppError> {
    withdraw(workspace, receipt, Some(by), now)
}

fn withdraw(
    workspace: &Workspace,
    receipt: &str,
    by: Option<&Person>,
    now: Now,
) -> Result<Withdrawal, AppError> {
    let Ok(receipt) = ReceiptHead::from_str(receipt.trim()) else {
        return Ok(Withdrawal::Mistyped);
    };
    let (receipt, by) = (receipt.to_string(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let Some((listener, known)) = writing.listener_with_receipt(&receipt)? else {
            return Ok(Withdrawal::Unknown);
        };
        if known.withdrawn_ms.is_some() {
            return Ok(Withdrawal::Before);
        }
        let salt = secret::salt();
        let who = who(&salt, known.listener.as_str())?;
        writing.withdraw_listener(listener, &salt, now.ms())?;
        let body = log::by(json!({"who": who}), by.as_deref());
        let head = log::append(writing, now, "listener withdrew", &body)?;
        Ok(Withdrawal::Done {
            receipt: head.receipt().to_string(),
        })
    })
}

/// What the log says of who withdrew.
pub(super) fn who(salt: &Salt, listener: &str) -> Result<Digest, AppError> {
    let value = log::canonical(&json!({"listener": listener}))?;
    Ok(seal::commit(salt, &value))
}
