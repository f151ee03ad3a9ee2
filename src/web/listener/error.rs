//! Why a listener did not get what she asked for, and how it is said to her in the language of the study.

use axum::Json;
use axum::extract::{Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use serde_json::json;

use super::cookie;
use super::pages::Notice;
use super::room::Room;
use super::room::Served;
use crate::app::listening::ListeningError;
use crate::web::WebError;
use crate::web::html;
use crate::web::texts::ErrorTexts;

/// Why a listener did not get what she asked for.
#[derive(Debug, thiserror::Error)]
pub(super) enum ListenerError {
    #[error("this browser holds no cookie")]
    NoListener,
    #[error("there is no such presentation")]
    NotFound,
    #[error("the form or the answer cannot be read")]
    Unreadable,
    #[error("a minor agreed without a parent or guardian")]
    NoGuardian,
    #[error("too many wrong tries within a minute")]
    TooManyTries,
    #[error(transparent)]
    Act(ListeningError),
    #[error("the act broke off")]
    Broken(tokio::task::JoinError),
    #[error("a page could not be written")]
    Page(#[from] WebError),
}

/// Which sentence of the page says it.
type Sentence = fn(&ErrorTexts) -> &str;

/// What a refusal leaves for the layer that puts it into the listener's words.
#[derive(Clone, Copy)]
struct Said(Sentence);

impl ListenerError {
    fn said(&self) -> (StatusCode, Sentence) {
        match self {
            Self::NoListener => (StatusCode::UNAUTHORIZED, |texts| &texts.no_listener),
            Self::NotFound => (StatusCode::NOT_FOUND, |texts| &texts.not_found),
            Self::Unreadable => (StatusCode::UNPROCESSABLE_ENTITY, |texts| &texts.unreadable),
            Self::NoGuardian => (StatusCode::UNPROCESSABLE_ENTITY, |texts| &texts.no_guardian),
            Self::TooManyTries => (StatusCode::TOO_MANY_REQUESTS, |texts| &texts.tries),
            Self::Act(refusal) => said_of(refusal),
            Self::Broken(_) | Self::Page(_) => {
                tracing::error!(error = ?self, "a listener's request failed");
                (StatusCode::INTERNAL_SERVER_ERROR, |texts| &texts.ours)
            }
        }
    }
}

impl IntoResponse for ListenerError {
    fn into_response(self) -> Response {
        let (status, sentence) = self.said();
        let mut response = status.into_response();
        response.extensions_mut().insert(Said(sentence));
        response
    }
}

fn said_of(refusal: &ListeningError) -> (StatusCode, Sentence) {
    match refusal {
        ListeningError::UnknownLink => (StatusCode::NOT_FOUND, |texts| &texts.link_unknown),
        ListeningError::Revoked => (StatusCode::GONE, |texts| &texts.link_revoked),
        ListeningError::Expired => (StatusCode::GONE, |texts| &texts.link_expired),
        ListeningError::UsedUp => (StatusCode::GONE, |texts| &texts.link_used_up),
        ListeningError::Withdrawn => (StatusCode::GONE, |texts| &texts.withdrawn),
        ListeningError::UnknownCode => (StatusCode::NOT_FOUND, |texts| &texts.code_unknown),
        ListeningError::Paused => (StatusCode::LOCKED, |texts| &texts.paused),
        ListeningError::UnknownBrowser => (StatusCode::UNAUTHORIZED, |texts| &texts.no_listener),
        ListeningError::Closed => (StatusCode::GONE, |texts| &texts.closed),
        ListeningError::OutOfOrder => (StatusCode::CONFLICT, |texts| &texts.out_of_order),
        ListeningError::NotHere => (StatusCode::NOT_FOUND, |texts| &texts.not_found),
        ListeningError::Conflict => (StatusCode::CONFLICT, |texts| &texts.already_answered),
        ListeningError::Settled => (StatusCode::CONFLICT, |texts| &texts.too_late),
        ListeningError::Unanswered => (StatusCode::UNPROCESSABLE_ENTITY, |texts| &texts.unanswered),
        ListeningError::TooManyReplays => {
            (StatusCode::UNPROCESSABLE_ENTITY, |texts| &texts.replays)
        }
        ListeningError::App(_) => {
            tracing::error!(error = ?refusal, "a listener's act failed");
            (StatusCode::SERVICE_UNAVAILABLE, |texts| &texts.later)
        }
    }
}

/// Puts a refusal on a page of its own, with the way back.
pub(super) async fn as_page(State(room): State<Room>, request: Request, next: Next) -> Response {
    let headers = request.headers().clone();
    let by_link = request.uri().path().starts_with("/l/");
    let is_her_page = request.uri().path() == "/listen";
    let response = next.run(request).await;
    let Some(Said(sentence)) = response.extensions().get().copied() else {
        return response;
    };
    let status = response.status();
    let (frame, texts) = room.page_that_refuses(&headers).await;
    let errors = &texts.errors;
    let stranger = status == StatusCode::UNAUTHORIZED;
    if stranger && room.served == Served::OneLaptop {
        return Redirect::to("/start").into_response();
    }
    // Her own link was taken back, or she withdrew: there is no page to go back to. Where the round is over,
    // there is: it has her receipt.
    let over = status == StatusCode::GONE && is_her_page;
    let leads_nowhere = [StatusCode::NOT_FOUND, StatusCode::GONE].contains(&status);
    let may_go_back = !stranger && !over && cookie::held(&headers, room.served).is_some();
    let page = Notice {
        frame,
        title: if stranger {
            &errors.no_listener_title
        } else if (by_link && leads_nowhere) || over {
            &errors.link_title
        } else {
            &errors.title
        },
        sentence: sentence(errors),
        back: may_go_back.then_some(&errors.back),
    };
    (status, html(&page)).into_response()
}

/// Puts a refusal into the standard JSON for problems (RFC 9457).
pub(super) async fn as_problem(State(room): State<Room>, request: Request, next: Next) -> Response {
    let headers = request.headers().clone();
    let response = next.run(request).await;
    let Some(Said(sentence)) = response.extensions().get().copied() else {
        return response;
    };
    let status = response.status();
    let (_, texts) = room.page_that_refuses(&headers).await;
    let problem = json!({ "title": sentence(&texts.errors), "status": status.as_u16() });
    let mut told = (status, Json(problem)).into_response();
    told.headers_mut().insert(
        CONTENT_TYPE,
        HeaderValue::from_static("application/problem+json"),
    );
    told
}
