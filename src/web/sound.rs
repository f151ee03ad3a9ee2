//! A sound as an answer, whole or in part: the same headers for every one, and nothing to compare by.

use axum::body::Body;
use axum::http::HeaderValue;
use axum::http::StatusCode;
use axum::http::header::ACCEPT_RANGES;
use axum::http::header::CONTENT_LENGTH;
use axum::http::header::CONTENT_RANGE;
use axum::http::header::CONTENT_TYPE;
use axum::response::Response;

use super::range::Asked;
use super::range::asked;

/// A FLAC file, or what of it a `Range` header asks for.
pub(super) fn served(mut sound: Vec<u8>, range: Option<&str>) -> Response {
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
