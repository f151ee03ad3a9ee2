//! Taking a link back.

use serde_json::json;

use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::log;
use crate::app::round;
use crate::study::RoundName;

/// A link of a round, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhichLink {
    /// A listener's own.
    Personal(u32),
    /// One that is open to several.
    Open(u32),
}

/// A link that was taken back.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Revoked {
    /// The round.
    pub round: RoundName,
    /// The number of the personal link.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub link: Option<u32>,
    /// The number of the open link.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_link: Option<u32>,
    /// Where the log stands now, short: to be deposited elsewhere.
    pub receipt: String,
}

/// Takes a link back. What was judged by it stays; nobody comes by it any more, and who came by
/// an open one keeps her own link.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round or link, or it was taken back before.
pub fn revoke(
    workspace: &Workspace,
    name: &RoundName,
    which: WhichLink,
    now: Now,
) -> Result<Revoked, AppError> {
    take_back(workspace, name, which, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`revoke`].
pub fn revoke_by(
    workspace: &Workspace,
    name: &RoundName,
    which: WhichLink,
    by: &Person,
    now: Now,
) -> Result<Revoked, AppError> {
    take_back(workspace, name, which, Some(by), now)
}

fn take_back(
    workspace: &Workspace,
    name: &RoundName,
    which: WhichLink,
    by: Option<&Person>,
    now: Now,
) -> Result<Revoked, AppError> {
    let (name, by) = (name.clone(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let round = round::named(writing, &name)?;
        let (link, open_link) = match which {
            WhichLink::Personal(number) => {
                let rows = writing.enrolments(round.id)?;
                let row = rows.iter().find(|row| row.number == number);
                let row = row.ok_or_else(|| unknown(&name, number, "link"))?;
                not_before(row.revoked_ms)?;
                writing.revoke_enrolment(row.id, now.ms())?;
                (Some(number), None)
            }
            WhichLink::Open(number) => {
                let rows = writing.open_links(round.id)?;
                let row = rows.iter().find(|row| row.number == number);
                let row = row.ok_or_else(|| unknown(&name, number, "open link"))?;
                not_before(row.revoked_ms)?;
                writing.revoke_open_link(row.id, now.ms())?;
                (None, Some(number))
            }
        };
        let body = match (link, open_link) {
            (Some(number), _) => json!({"round": name, "link": number}),
            (None, number) => json!({"round": name, "open_link": number}),
        };
        let head = log::append(writing, now, "link revoked", &log::by(body, by.as_deref()))?;
        Ok(Revoked {
            round: name,
            link,
            open_link,
            receipt: head.receipt().to_string(),
        })
    })
}

fn unknown(round: &RoundName, number: u32, what: &str) -> AppError {
    AppError::refused(
        format!("round {round} has no {what} {number}"),
        "the round's page shows the numbers of its links",
    )
}

fn not_before(revoked_ms: Option<i64>) -> Result<(), AppError> {
    match revoked_ms {
        None => Ok(()),
        Some(_) => Err(AppError::refused(
            "this link was taken back before",
            "there is nothing left to do",
        )),
    }
}
