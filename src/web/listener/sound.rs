//! The sound of a presentation: the same headers for every kind of it, and nothing to compare by.

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::http::header::RANGE;
use axum::response::Response;

use super::error::ListenerError;
use super::own_page::OwnPage;
use super::room::Room;
use super::sitting::id_in;
use crate::app::listening;
use crate::web::range::served;

/// `GET /listen/sound/{id}`: the word, whole or in part; 404 for all but the words ahead.
pub(super) async fn sound(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    Path(id): Path<String>,
    headers: HeaderMap,
) -> Result<Response, ListenerError> {
    let id = id_in(&id)?;
    let sound = room
        .act(move |ws, now| listening::audio(ws, &cookie, id, now))
        .await?;
    let range = headers.get(RANGE).and_then(|value| value.to_str().ok());
    Ok(served(sound, range, "audio/flac"))
}
