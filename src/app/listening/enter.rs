//! The way in by an open link: looking at it changes nothing; whoever begins gets a place of her own.

use serde_json::json;

use super::ListeningError;
use super::course;
use super::effort::Effort;
use super::entry::let_in;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::links;
use crate::app::links::NewListener;
use crate::app::log;
use crate::app::secret;
use crate::blinding::Seed;
use crate::store::OpenLinkRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::Plan;
use crate::study::RoundState;

/// Where a link leads.
#[derive(Debug, Clone)]
pub enum Arrival {
    /// It is a listener's own, or nobody's.
    Personal,
    /// This browser's listener came by it before, or it is her own: she is let in already.
    Known,
    /// It is open: whoever begins becomes a listener.
    Open(Welcome),
}

/// What the page before an open link's button is made of.
#[derive(Debug, Clone)]
pub struct Welcome {
    /// The language of the page, such as `en`.
    pub language: String,
    /// What listening asks of whoever begins.
    pub effort: Effort,
}

/// A listener who came by an open link.
#[derive(Debug, Clone)]
pub struct Enrolled {
    /// The secret that the browser keeps as its cookie.
    pub cookie: String,
    /// The path of her own link, by which she comes back on any device: shown this once. None where
    /// this browser's listener was here before.
    pub way_back: Option<String>,
}

/// Looks where a link leads. Nothing is written, so that no preview and no crawler takes a place.
/// `cookie`: what the browser holds, if anything.
///
/// # Errors
/// [`ListeningError::Revoked`], [`ListeningError::Expired`], [`ListeningError::UsedUp`],
/// [`ListeningError::Closed`] or [`ListeningError::Paused`] for an open link that lets nobody in.
pub fn arrive(
    workspace: &Workspace,
    secret: &str,
    cookie: Option<&str>,
    now: Now,
) -> Result<Arrival, ListeningError> {
    workspace.store().read(|reading| {
        let digest = secret::digest_of(secret);
        let Some(link) = reading.open_link_by_secret(&digest)? else {
            let known = is_her_own(reading, &digest, cookie)?;
            return Ok(if known {
                Arrival::Known
            } else {
                Arrival::Personal
            });
        };
        if came_by(reading, &link, cookie)? {
            return Ok(Arrival::Known);
        }
        let round = lets_in(reading, &link, now)?;
        let plan: Plan = serde_json::from_str(&round.plan)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        Ok(Arrival::Open(Welcome {
            language: course::sealed_settings(&round)?.language,
            effort: Effort::of(&plan, &reading.round_tokens(round.id)?),
        }))
    })
}

/// Makes a listener of whoever begins behind an open link: a place, a code, a side, and a link of
/// her own. A browser that did so before keeps its listener.
///
/// # Errors
/// As for [`arrive`]; [`ListeningError::UnknownLink`] if the link is not open.
pub fn enrol(
    workspace: &Workspace,
    secret: &str,
    cookie: Option<&str>,
    now: Now,
) -> Result<Enrolled, ListeningError> {
    let link = secret::digest_of(secret);
    let held = cookie.map(str::to_owned);
    let cookie = secret::token();
    workspace.store().write(move |writing| {
        let link = writing
            .open_link_by_secret(&link)?
            .ok_or(ListeningError::UnknownLink)?;
        if let Some(held) = held
            && came_by(writing, &link, Some(&held))?
        {
            return Ok(Enrolled {
                cookie: held,
                way_back: None,
            });
        }
        let round = lets_in(writing, &link, now)?;
        let new = NewListener {
            number: links::next_number(writing, &round)?,
            kind: link.kind,
            expires_ms: None,
            open_link: Some(link.id),
        };
        let (new, secret) = links::new_enrolment(new, &Seed::new(round.seed))?;
        writing.add_enrolment(round.id, &new)?;
        let body = json!({
            "round": round.name,
            "open_link": link.number,
            "enrolled": links::told_of(&new),
        });
        log::append(writing, now, "listener enrolled", &body)?;
        let enrolment = writing
            .enrolment_by_link(&new.link_sha256)?
            .ok_or(ListeningError::UnknownLink)?;
        let_in(writing, &enrolment, &secret::digest_of(&cookie), now)?;
        Ok(Enrolled {
            cookie,
            way_back: Some(links::path_of(&secret)),
        })
    })
}

/// Whether a link is that of the listener who is let in at this browser: she keeps her cookie, and
/// is asked nothing twice.
fn is_her_own(
    reading: &Reading<'_>,
    link_sha256: &str,
    cookie: Option<&str>,
) -> Result<bool, ListeningError> {
    let Some(cookie) = cookie else {
        return Ok(false);
    };
    let here = reading.enrolment_by_cookie(&secret::digest_of(cookie))?;
    Ok(here.is_some_and(|enrolment| enrolment.link_sha256 == link_sha256))
}

/// Whether a browser's listener came by that link.
fn came_by(
    reading: &Reading<'_>,
    link: &OpenLinkRow,
    cookie: Option<&str>,
) -> Result<bool, ListeningError> {
    let Some(cookie) = cookie else {
        return Ok(false);
    };
    let known = reading.enrolment_by_cookie(&secret::digest_of(cookie))?;
    Ok(known.is_some_and(|enrolment| enrolment.open_link == Some(link.id)))
}

/// The round of an open link that still lets somebody in.
fn lets_in(
    reading: &Reading<'_>,
    link: &OpenLinkRow,
    now: Now,
) -> Result<RoundRow, ListeningError> {
    let round = reading
        .round(link.round)?
        .ok_or(ListeningError::UnknownLink)?;
    if link.revoked_ms.is_some() {
        return Err(ListeningError::Revoked);
    }
    if round.state != RoundState::Open {
        return Err(ListeningError::Closed);
    }
    if link.expires_ms.is_some_and(|end| end <= now.ms()) {
        return Err(ListeningError::Expired);
    }
    if link.enrolled >= link.cap {
        return Err(ListeningError::UsedUp);
    }
    if round.paused {
        return Err(ListeningError::Paused);
    }
    Ok(round)
}
