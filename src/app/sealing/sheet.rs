//! The seal sheet: what leaves the machine before the first listener, to be deposited elsewhere.

use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::round;
use crate::seal::Head;
use crate::store::EventRow;
use crate::study::Plan;
use crate::study::RoundName;
use serde_json::Value;

/// The event that seals a round.
pub(super) const SEALED: &str = "round sealed";

/// A round's seal with what it seals.
#[derive(Debug, Clone, PartialEq)]
pub struct SealSheet {
    /// The round.
    pub round: RoundName,
    /// The study's name as it was sealed.
    pub study: String,
    /// The SHA-256 of the sealed document.
    pub seal: String,
    /// Where the log stood just after the seal, short.
    pub receipt: String,
    /// When it was sealed.
    pub at: Now,
    /// The version of the program that sealed it.
    pub program: String,
    /// The sealed plan.
    pub plan: Plan,
    /// Words of children and peers that the round plays.
    pub tokens: usize,
    /// Listeners whom the seal names.
    pub listeners: usize,
}

/// The seal sheet of a round.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round; [`AppError::Unreadable`] if its log does not tell of its seal.
pub fn seal_sheet(workspace: &Workspace, name: &RoundName) -> Result<SealSheet, AppError> {
    workspace.store().read(|reading| {
        let row = round::named(reading, name)?;
        let (head, at) = head_after_seal(&reading.events()?, name)
            .ok_or_else(|| unreadable(&"the log does not tell of the seal"))?;
        let document: Value =
            serde_json::from_str(&row.document).map_err(|error| unreadable(&error))?;
        let text = |path: &str| {
            let found = document.pointer(path).and_then(Value::as_str);
            found.unwrap_or_default().to_owned()
        };
        let tokens = reading.round_tokens(row.id)?;
        let listeners = document.get("listeners").and_then(Value::as_array);
        Ok(SealSheet {
            study: text("/study/name"),
            program: text("/program"),
            seal: row.seal,
            receipt: head.receipt().to_string(),
            at,
            plan: serde_json::from_str(&row.plan).map_err(|error| unreadable(&error))?,
            tokens: tokens
                .iter()
                .filter(|token| token.stratum.is_some())
                .count(),
            listeners: listeners.map_or(0, Vec::len),
            round: row.name,
        })
    })
}

/// Where the log stood just after a round was sealed, and when that was.
fn head_after_seal(events: &[EventRow], name: &RoundName) -> Option<(Head, Now)> {
    let mut head = Head::EMPTY;
    for row in events {
        head = head.after(&row.event);
        let tells = |body: &Value| body.get("round").and_then(Value::as_str) == Some(name.as_str());
        let body = serde_json::from_str(row.event.body.as_str()).ok();
        if row.event.kind == SEALED && body.as_ref().is_some_and(tells) {
            return Some((head, Now::at_ms(row.event.at_utc_ms)));
        }
    }
    None
}

fn unreadable(error: &impl ToString) -> AppError {
    AppError::Unreadable(error.to_string())
}
