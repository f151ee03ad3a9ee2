//! The way in: a link's secret is exchanged for a cookie, and a cookie tells who listens.

use super::ListeningError;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::store::Enrolment;
use crate::store::Reading;
use crate::store::RoundBrief;
use crate::store::Step;
use crate::store::Writing;
use crate::study::Plan;
use crate::study::RoundState;

/// A link that was opened.
pub struct Opened {
    /// The secret that the browser keeps as its cookie.
    pub cookie: String,
}

/// Opens a personal link: its secret is exchanged for one of the browser's own. The link may be
/// opened again, on another device too: it leads to the same place of the same sitting.
///
/// # Errors
/// [`ListeningError::UnknownLink`], [`ListeningError::Revoked`], [`ListeningError::Expired`].
pub fn open_link(workspace: &Workspace, secret: &str, now: Now) -> Result<Opened, ListeningError> {
    let link = secret::digest_of(secret);
    let cookie = secret::token();
    let kept = secret::digest_of(&cookie);
    workspace.store().write(move |writing| {
        let enrolment = writing
            .enrolment_by_link(&link)?
            .ok_or(ListeningError::UnknownLink)?;
        let_in(writing, &enrolment, &kept, now)
    })?;
    Ok(Opened { cookie })
}

/// Lets a browser in by the digest of its cookie; the first time is logged.
pub(super) fn let_in(
    writing: &Writing<'_>,
    enrolment: &Enrolment,
    cookie_sha256: &str,
    now: Now,
) -> Result<(), ListeningError> {
    check_link(enrolment, now)?;
    if enrolment.opened_ms.is_none() {
        writing.note_step(enrolment.id, Step::Opened, "", now.ms())?;
        let body = serde_json::json!({"listener": enrolment.code});
        log::append(writing, now, "link opened", &body)?;
    }
    writing.add_visit(enrolment.id, cookie_sha256, now.ms())?;
    Ok(())
}

/// Who listens, in which round, under which plan.
pub(super) struct Listening {
    /// The digest of her browser's cookie; none where staff act on her sitting.
    pub(super) visit: Option<String>,
    pub(super) enrolment: Enrolment,
    pub(super) round: RoundBrief,
    pub(super) plan: Plan,
}

impl Listening {
    /// Who holds that cookie.
    pub(super) fn of(
        reading: &Reading<'_>,
        cookie: &str,
        now: Now,
    ) -> Result<Self, ListeningError> {
        let visit = secret::digest_of(cookie);
        let enrolment = reading
            .enrolment_by_cookie(&visit)?
            .ok_or(ListeningError::UnknownBrowser)?;
        check_link(&enrolment, now)?;
        let round = reading
            .round_in_brief(enrolment.round)?
            .ok_or(ListeningError::UnknownBrowser)?;
        let plan = serde_json::from_str(&round.plan)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        Ok(Self {
            visit: Some(visit),
            enrolment,
            round,
            plan,
        })
    }

    /// The same, where something is begun or handed out: the round must be open and not paused.
    pub(super) fn active(
        reading: &Reading<'_>,
        cookie: &str,
        now: Now,
    ) -> Result<Self, ListeningError> {
        let listening = Self::of(reading, cookie, now)?;
        listening.must_be_open()?;
        if listening.round.paused {
            return Err(ListeningError::Paused);
        }
        Ok(listening)
    }

    /// Refuses what would write into a round that takes no more judgements.
    pub(super) fn must_be_open(&self) -> Result<(), ListeningError> {
        if self.round.state == RoundState::Open {
            Ok(())
        } else {
            Err(ListeningError::Closed)
        }
    }
}

fn check_link(enrolment: &Enrolment, now: Now) -> Result<(), ListeningError> {
    if enrolment.withdrawn_ms.is_some() {
        return Err(ListeningError::Withdrawn);
    }
    if enrolment.revoked_ms.is_some() {
        return Err(ListeningError::Revoked);
    }
    let unused = enrolment.consented_ms.is_none();
    if unused && enrolment.expires_ms.is_some_and(|end| end <= now.ms()) {
        return Err(ListeningError::Expired);
    }
    Ok(())
}
