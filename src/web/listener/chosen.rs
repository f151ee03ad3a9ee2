//! The pages that a listener turns to of her own accord: later, enough, her sound once more.

use axum::extract::State;
use axum::response::Html;
use axum::response::Redirect;

use super::cookie::Known;
use super::error::ListenerError;
use super::pages::Closing;
use super::pages::SoundCheck;
use super::pages::frame_for;
use super::pages::visit;
use super::room::Room;
use super::stops::Stop;
use crate::app::listening::Stage;
use crate::web::html;

/// `GET /listen/later`: she stops for today. Nothing is kept of it: her place waits as it is.
pub(super) async fn later(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = visit(&room, cookie).await?;
    let (frame, texts) = frame_for(&room, &visit);
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
    let (frame, texts) = frame_for(&room, &visit);
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
    let (frame, texts) = frame_for(&room, &visit);
    Ok(Ok(html(&SoundCheck::of(frame, texts, &visit, sample))?))
}
