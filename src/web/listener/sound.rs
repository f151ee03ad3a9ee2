//! The sound of a presentation: the same headers for every kind of it, and nothing to compare by.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{ACCEPT_RANGES, CONTENT_LENGTH, CONTENT_RANGE, CONTENT_TYPE, RANGE};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::Response;

use super::cookie::Known;
use super::error::ListenerError;
use super::range::Asked;
use super::range::asked;
use super::room::Room;
use super::sitting::id_in;
use crate::app::listening;

/// `GET /listen/sound/{id}`: the word, whole or in part; 404 for all but the words ahead.
pub(super) async fn sound(
    State(room): State<Room>,
    Known(cookie): Known,
    Path(id): Path<String>,
    headers: HeaderMap,
) -> Result<Response, ListenerError> {
    let id = id_in(&id)?;
    let sound = room
        .act(move |ws, now| listening::audio(ws, &cookie, id, now))
        .await?;
    let range = headers.get(RANGE).and_then(|value| value.to_str().ok());
    Ok(served(sound, range))
}

fn served(mut sound: Vec<u8>, range: Option<&str>) -> Response {
    let length = sound.len();
    let (status, told) = match asked(range, length) {
        Asked::All => (StatusCode::OK, None),
        Asked::Part(part) => {
            let told = format!(
                "bytes {}-{}/{length}",
                part.start,
                part.end.saturating_sub(1)
            );
            sound.truncate(part.end);
            sound.drain(..part.start);
            (StatusCode::PARTIAL_CONTENT, Some(told))
        }
        Asked::Beyond => {
            sound.clear();
            (
                StatusCode::RANGE_NOT_SATISFIABLE,
                Some(format!("bytes */{length}")),
            )
        }
    };
    let mut response = Response::new(Body::empty());
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("audio/flac"));
    headers.insert(ACCEPT_RANGES, HeaderValue::from_static("bytes"));
    headers.insert(CONTENT_LENGTH, HeaderValue::from(sound.len()));
    if let Some(told) = told.and_then(|told| HeaderValue::from_str(&told).ok()) {
        headers.insert(CONTENT_RANGE, told);
    }
    *response.body_mut() = Body::from(sound);
    response
}
