//! The way in: a personal link, an open link with a button before it, and the way back.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::SET_COOKIE;
use axum::response::{Html, IntoResponse, Redirect, Response};

use super::cookie;
use super::cookie::Known;
use super::error::ListenerError;
use super::facts::Facts;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::Arrival;
use crate::web::Frame;
use crate::web::html;
use crate::web::texts::Texts;
use crate::web::way::Way;

#[derive(Template)]
#[template(path = "listener/open.html")]
struct Open<'a> {
    frame: Frame,
    texts: &'a Texts,
    facts: Facts,
}

#[derive(Template)]
#[template(path = "listener/way_back.html")]
struct WayBack<'a> {
    frame: Frame,
    texts: &'a Texts,
    address: String,
}

/// `GET /l/{secret}`: a personal link becomes a cookie, and the secret leaves the address. An open
/// link shows its button and changes nothing, whoever asks: a preview and a crawler too.
pub(super) async fn open_link(
    State(room): State<Room>,
    Path(secret): Path<String>,
    headers: HeaderMap,
    way: Way,
) -> Result<Response, ListenerError> {
    let (asked, held) = (secret.clone(), cookie::held(&headers, room.served));
    let arrival = room
        .act(move |ws, now| listening::arrive(ws, &asked, held.as_deref(), now))
        .await?;
    match arrival {
        Arrival::Open(welcome) => {
            let (frame, texts) = room.page_in(&welcome.language);
            let facts = Facts::of(&texts.consent, &welcome.effort);
            let page = Open {
                frame,
                texts,
                facts,
            };
            Ok(html(&page)?.into_response())
        }
        Arrival::Known => Ok(Redirect::to("/listen").into_response()),
        Arrival::Personal => {
            let opened = room
                .act(move |ws, now| listening::open_link(ws, &secret, now))
                .await?;
            let cookie = cookie::set(&opened.cookie, &way, room.served);
            Ok(([(SET_COOKIE, cookie)], Redirect::to("/listen")).into_response())
        }
    }
}

/// `POST /l/{secret}`: whoever begins behind an open link becomes a listener.
pub(super) async fn begin(
    State(room): State<Room>,
    Path(secret): Path<String>,
    headers: HeaderMap,
    way: Way,
) -> Result<Response, ListenerError> {
    let held = cookie::held(&headers, room.served);
    let enrolled = room
        .act(move |ws, now| listening::enrol(ws, &secret, held.as_deref(), now))
        .await?;
    let Some(way_back) = enrolled.way_back else {
        return Ok(Redirect::to("/listen").into_response());
    };
    let mut response = Redirect::to("/listen/way-back").into_response();
    for set in [
        cookie::set(&enrolled.cookie, &way, room.served),
        cookie::set_way_back(&way_back, &way),
    ] {
        cookie::append(&mut response, &set);
    }
    Ok(response)
}

/// `GET /listen/way-back`: her own link, until she goes on.
pub(super) async fn way_back(
    State(room): State<Room>,
    Known(cookie): Known,
    headers: HeaderMap,
    way: Way,
) -> Result<Result<Html<String>, Redirect>, ListenerError> {
    let Some(path) = cookie::way_back(&headers) else {
        return Ok(Err(Redirect::to("/listen")));
    };
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let (frame, texts) = room.page_in(&visit.language);
    let page = WayBack {
        frame,
        texts,
        address: format!("{}{path}", cookie::origin(&headers, &way)),
    };
    Ok(Ok(html(&page)?))
}

/// `POST /listen/way-back`: she keeps it; it is shown no more.
pub(super) async fn go_on(way: Way) -> Response {
    let mut response = Redirect::to("/listen").into_response();
    cookie::append(&mut response, &cookie::forget_way_back(&way));
    response
}
