//! One laptop that is handed round: a start by a short code, and a hand-over that leaves nothing behind.

use askama::Template;
use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::HeaderMap;
use axum::response::{Html, IntoResponse, Redirect, Response};
use serde::Deserialize;

use super::cookie;
use super::error::ListenerError;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::ListeningError;
use crate::web::Frame;
use crate::web::html;
use crate::web::texts::Texts;
use crate::web::way::Way;

#[derive(Template)]
#[template(path = "listener/start.html")]
struct Start<'a> {
    frame: Frame,
    texts: &'a Texts,
    unknown: bool,
}

#[derive(Template)]
#[template(path = "listener/hand_over.html")]
struct HandOver<'a> {
    frame: Frame,
    texts: &'a Texts,
    tag: String,
}

/// The code that a listener typed.
#[derive(Deserialize)]
pub(super) struct Typed {
    code: String,
}

/// Whether the last listener has not handed over.
async fn somebody_is_here(room: &Room, headers: &HeaderMap) -> Result<bool, ListenerError> {
    let Some(cookie) = cookie::held(headers, room.served) else {
        return Ok(false);
    };
    room.act(move |ws, _| listening::is_here(ws, &cookie)).await
}

/// `GET /start`: the next listener gives her code.
pub(super) async fn start(
    State(room): State<Room>,
    headers: HeaderMap,
) -> Result<Response, ListenerError> {
    if somebody_is_here(&room, &headers).await? {
        return Ok(Redirect::to("/hand-over").into_response());
    }
    Ok(start_page(&room, false).await?.into_response())
}

async fn start_page(room: &Room, unknown: bool) -> Result<Html<String>, ListenerError> {
    let language = room.study_language().await?;
    let (mut frame, texts) = room.page_in(&language);
    // There is nobody here to hand over.
    frame.hand_over = None;
    Ok(html(&Start {
        frame,
        texts,
        unknown,
    })?)
}

/// `POST /start`: a code that is known starts its listener; wrong ones are counted.
pub(super) async fn begin(
    State(room): State<Room>,
    headers: HeaderMap,
    way: Way,
    typed: Result<Form<Typed>, FormRejection>,
) -> Result<Response, ListenerError> {
    if somebody_is_here(&room, &headers).await? {
        return Ok(Redirect::to("/hand-over").into_response());
    }
    let Form(Typed { code }) = typed.map_err(|_| ListenerError::Unreadable)?;
    room.codes.take(way.from)?;
    let opened = room
        .act(move |ws, now| listening::start_by_code(ws, &code, now))
        .await;
    match opened {
        Ok(opened) => {
            room.codes.was_right(way.from);
            let mut response = Redirect::to("/listen").into_response();
            let set = cookie::set_until_closed(&opened.cookie, &way, room.served);
            cookie::append(&mut response, &set);
            Ok(response)
        }
        Err(ListenerError::Act(ListeningError::UnknownCode)) => {
            let page = start_page(&room, true).await?;
            Ok((axum::http::StatusCode::NOT_FOUND, page).into_response())
        }
        Err(refusal) => {
            room.codes.was_right(way.from);
            Err(refusal)
        }
    }
}

/// `GET /hand-over`: waits until all is sent; then the next one may come.
pub(super) async fn hand_over(
    State(room): State<Room>,
    headers: HeaderMap,
) -> Result<Response, ListenerError> {
    let Some(cookie) = cookie::held(&headers, room.served) else {
        return Ok(Redirect::to("/start").into_response());
    };
    let known = room.act(move |ws, _| listening::tag(ws, &cookie)).await;
    let (tag, language) = match known {
        Err(ListenerError::Act(ListeningError::UnknownBrowser)) => {
            return Ok(Redirect::to("/start").into_response());
        }
        known => known?,
    };
    let (mut frame, texts) = room.page_in(&language);
    frame.hand_over = None;
    Ok(html(&HandOver { frame, texts, tag })?.into_response())
}

/// `POST /hand-over`: the browser is forgotten, its cookies are gone, and so is what it kept of the
/// pages.
pub(super) async fn handed(
    State(room): State<Room>,
    headers: HeaderMap,
    way: Way,
) -> Result<Response, ListenerError> {
    if let Some(cookie) = cookie::held(&headers, room.served) {
        room.act(move |ws, _| listening::hand_over(ws, &cookie))
            .await?;
    }
    let mut response = Redirect::to("/start").into_response();
    for gone in cookie::forget(&way, room.served) {
        cookie::append(&mut response, &gone);
    }
    // Pages that wait behind the back button go too, where the browser knows how.
    response.headers_mut().insert(
        "clear-site-data",
        axum::http::HeaderValue::from_static("\"cache\""),
    );
    Ok(response)
}
