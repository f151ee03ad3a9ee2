//! Withdrawing by the receipt: whoever holds the number needs nothing else.

use askama::Template;
use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use serde::Deserialize;

use super::error::ListenerError;
use super::pages::Notice;
use super::room::Room;
use crate::app;
use crate::app::Withdrawal;
use crate::web::Frame;
use crate::web::html;
use crate::web::texts::Texts;
use crate::web::texts::WithdrawTexts;
use crate::web::way::Way;

#[derive(Template)]
#[template(path = "listener/withdraw.html")]
struct Withdraw<'a> {
    frame: Frame,
    texts: &'a Texts,
    /// Why the number was not taken, if one was sent.
    refused: Option<&'a str>,
    /// What was typed, to be mended.
    typed: String,
}

/// The receipt that a listener typed.
#[derive(Deserialize)]
pub(super) struct Typed {
    receipt: String,
    sure: String,
}

/// Which sentence of the page says it.
type Sentence = fn(&WithdrawTexts) -> &str;

/// `GET /withdraw`: what happens, and where to type the number.
pub(super) async fn page(State(room): State<Room>) -> Result<Html<String>, ListenerError> {
    asked_again(&room, None, String::new()).await
}

async fn asked_again(
    room: &Room,
    refused: Option<Sentence>,
    typed: String,
) -> Result<Html<String>, ListenerError> {
    let language = room.study_language().await?;
    let (frame, texts) = room.page_in(&language);
    Ok(html(&Withdraw {
        frame,
        texts,
        refused: refused.map(|sentence| sentence(&texts.withdraw)),
        typed,
    })?)
}

/// `POST /withdraw`: the listener is out of every result; wrong numbers are counted.
pub(super) async fn withdraw(
    State(room): State<Room>,
    way: Way,
    typed: Result<Form<Typed>, FormRejection>,
) -> Result<Response, ListenerError> {
    let Form(Typed { receipt, sure }) = typed.map_err(|_| ListenerError::Unreadable)?;
    if sure != "yes" {
        return Err(ListenerError::Unreadable);
    }
    room.receipts.take(way.from)?;
    let typed = receipt.clone();
    let done = room
        .act(move |ws, now| Ok(app::withdraw_listener(ws, &receipt, now)?))
        .await?;
    let refused: (StatusCode, Sentence) = match done {
        Withdrawal::Done { .. } | Withdrawal::Before => {
            room.receipts.was_right(way.from);
            let language = room.study_language().await?;
            let (frame, texts) = room.page_in(&language);
            let said = &texts.withdraw;
            let page = Notice::plain(frame, &said.done_title, &said.done);
            return Ok(html(&page)?.into_response());
        }
        Withdrawal::Mistyped => (StatusCode::UNPROCESSABLE_ENTITY, |texts| &texts.mistyped),
        Withdrawal::Unknown => (StatusCode::NOT_FOUND, |texts| &texts.unknown),
    };
    let page = asked_again(&room, Some(refused.1), typed).await?;
    Ok((refused.0, page).into_response())
}
