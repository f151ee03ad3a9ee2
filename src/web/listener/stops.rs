//! The pages on which nothing is to be judged now, and the ways on from them.

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::Redirect;

use super::cookie::Known;
use super::error::ListenerError;
use super::pages::Closing;
use super::pages::SoundCheck;
use super::pages::unsent;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::Stage;
use crate::app::listening::Visit;
use crate::web::Frame;
use crate::web::html;
use crate::web::texts::Texts;

/// A sentence for whoever has a link and a device of her own, or for whoever sits at one laptop that
/// is handed round.
pub(super) fn here<'a>(frame: &Frame, own: &'a str, handed: &'a str) -> &'a str {
    if frame.hand_over.is_some() {
        handed
    } else {
        own
    }
}

/// `GET /listen/later`: she stops for today. Nothing is kept of it: her place waits as it is.
pub(super) async fn later(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, &visit);
    Ok(html(&Stop {
        title: &texts.later.title,
        sentence: here(&frame, &texts.later.lead, &texts.later.lead_here),
        back: Some(("/listen", &texts.later.go_on)),
        enough: None,
        frame,
    })?)
}

/// `GET /listen/enough`: between two sittings she leaves it at what she judged: the closing questions.
pub(super) async fn enough(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Result<Html<String>, Redirect>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    if !visit.may_finish {
        return Ok(Err(Redirect::to("/listen")));
    }
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, &visit);
    Ok(Ok(html(&Closing::of(frame, texts, &visit))?))
}

/// `GET /listen/check-again`: whoever was left out by a check of her sound does it once more.
pub(super) async fn check_again(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Result<Html<String>, Redirect>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let Stage::LeftOut { sample } = visit.stage else {
        return Ok(Err(Redirect::to("/listen")));
    };
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, &visit);
    Ok(Ok(html(&SoundCheck::of(frame, texts, &visit, sample))?))
}

/// A page on which nothing is to be judged now: why, and the ways on.
#[derive(Template)]
#[template(path = "listener/stop.html")]
pub(super) struct Stop<'a> {
    frame: Frame,
    title: &'a str,
    sentence: &'a str,
    /// The address and the label of the way on.
    back: Option<(&'static str, &'a str)>,
    /// The label of the way to the closing questions.
    enough: Option<&'a str>,
}

impl<'a> Stop<'a> {
    pub(super) fn of(frame: Frame, texts: &'a Texts, visit: &Visit) -> Self {
        let (title, own, handed, back): (&str, &str, &str, _) = match visit.stage {
            Stage::LeftOut { .. } => (
                &texts.left_out.title,
                &texts.left_out.lead,
                &texts.left_out.lead_here,
                Some(("/listen/check-again", texts.left_out.again.as_str())),
            ),
            Stage::Paused => (
                &texts.paused.title,
                &texts.paused.lead,
                &texts.paused.lead_here,
                Some(("/listen", texts.paused.again.as_str())),
            ),
            Stage::RoundClosed => (
                &texts.round_closed.title,
                &texts.round_closed.lead,
                &texts.round_closed.lead,
                None,
            ),
            // The other stages have pages of their own.
            _ => (
                &texts.today.title,
                &texts.today.lead,
                &texts.today.lead_here,
                None,
            ),
        };
        Self {
            title,
            sentence: here(&frame, own, handed),
            back,
            enough: visit.may_finish.then_some(texts.judge.enough.as_str()),
            frame,
        }
    }
}
