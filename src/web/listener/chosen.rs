//! The pages that a listener turns to of her own accord: later, enough, her sound once more.

use axum::extract::State;
use axum::response::Html;
use axum::response::Redirect;

use super::cookie::Known;
use super::error::ListenerError;
use super::pages::Closing;
use super::pages::SoundCheck;
use super::pages::unsent;
use super::room::Room;
use super::stops::Stop;
use crate::app::listening;
use crate::app::listening::Stage;
use crate::app::listening::Visit;
use crate::web::Frame;
use crate::web::html;
use crate::web::texts::Texts;

/// `GET /listen/later`: she stops for today. Nothing is kept of it: her place waits as it is.
pub(super) async fn later(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = visit(&room, cookie).await?;
    let (frame, texts) = page(&room, &visit);
    Ok(html(&Stop::later(frame, texts))?)
}

/// `GET /listen/enough`: between two sittings she leaves it at what she judged: the closing questions.
pub(super) async fn enough(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Result<Html<String>, Redirect>, ListenerError> {
    let visit = visit(&room, cookie).await?;
    if !visit.may_finish {
        return Ok(Err(Redirect::to("/listen")));
    }
    let (frame, texts) = page(&room, &visit);
    Ok(Ok(html(&Closing::of(frame, texts, &visit))?))
}

/// `GET /listen/check-again`: whoever was left out by a check of her sound does it once more.
pub(super) async fn check_again(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Result<Html<String>, Redirect>, ListenerError> {
    let visit = visit(&room, cookie).await?;
    let Stage::LeftOut { sample } = visit.stage else {
        return Ok(Err(Redirect::to("/listen")));
    };
    let (frame, texts) = page(&room, &visit);
    Ok(Ok(html(&SoundCheck::of(frame, texts, &visit, sample))?))
}

async fn visit(room: &Room, cookie: String) -> Result<Visit, ListenerError> {
    room.act(move |ws, now| listening::visit(ws, &cookie, now))
        .await
}

fn page<'a>(room: &'a Room, visit: &Visit) -> (Frame, &'a Texts) {
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, visit);
    (frame, texts)
}
