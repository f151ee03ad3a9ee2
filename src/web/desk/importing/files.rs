//! Files that come in: several in one form, one in the place of another, or in parts by the page's script.

use axum::Json;
use axum::body::Bytes;
use axum::extract::Multipart;
use axum::extract::Path;
use axum::extract::Query;
use axum::extract::State;
use axum::extract::multipart::Field;
use axum::extract::multipart::MultipartError;
use axum::extract::multipart::MultipartRejection;
use axum::extract::rejection::BytesRejection;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use serde::Deserialize;

use super::pages;
use super::refusing;
use crate::app::Now;
use crate::app::Person;
use crate::app::staging;
use crate::app::staging::Held;
use crate::app::staging::StagingId;
use crate::app::staging::Upload;
use crate::web::WebError;
use crate::web::desk::Desk;

/// A form's file is handed on in pieces of this size.
const PIECE_BYTES: usize = 1 << 20;

/// `POST /desk/import/{id}/files`: every file of a form.
pub(super) async fn several(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let id = pages::free(&desk, &id)?;
    let back = pages::address(&id);
    let mut form = form.map_err(|_| WebError::Unreadable)?;
    let mut refusals = refusing(&desk, &person, &back).await?;
    while let Some(field) = form
        .next_field()
        .await
        .map_err(|error| broken_off(&error))?
    {
        let name = field.file_name().unwrap_or_default().to_owned();
        if name.is_empty() {
            continue;
        }
        if let Err(error) = take_in(&desk, &id, name, field).await? {
            refusals.add(&error);
        }
    }
    desk.jobs.forget(&id);
    if !refusals.is_empty() {
        note_refused(&desk, &person).await?;
    }
    refusals.or(Redirect::to(&back))
}

/// `POST /desk/import/{id}/rows/{line}/recording`: a file in the place of the one that the row names.
pub(super) async fn one(
    State(desk): State<Desk>,
    person: Person,
    Path((id, line)): Path<(String, u64)>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let id = pages::free(&desk, &id)?;
    let back = pages::address_of_row(&id, line);
    let staged = pages::look(&desk, &id).await?;
    let row = staged.rows.into_iter().find(|row| row.line == line);
    let row = row.ok_or(WebError::NotFound)?;
    let mut form = form.map_err(|_| WebError::Unreadable)?;
    let mut refusals = refusing(&desk, &person, &back).await?;
    while let Some(field) = form
        .next_field()
        .await
        .map_err(|error| broken_off(&error))?
    {
        if field.file_name().unwrap_or_default().is_empty() {
            continue;
        }
        let name = row.stored_as.clone().unwrap_or_else(|| row.file.clone());
        match take_in(&desk, &id, name, field).await? {
            Ok(()) => desk.jobs.mended(&id, line),
            Err(error) => refusals.add(&error),
        }
    }
    if !refusals.is_empty() {
        note_refused(&desk, &person).await?;
    }
    refusals.or(Redirect::to(&pages::address(&id)))
}

/// Tells the log that something was refused that this person sent.
async fn note_refused(desk: &Desk, person: &Person) -> Result<(), WebError> {
    let account = person.code.clone();
    tracing::warn!(account, "an upload was refused");
    desk.act(move |workspace| staging::note_refused(workspace, &account, Now::read()))
        .await
}

/// What is said of a form that ends too early, or is larger than any may be.
pub(in crate::web::desk) fn broken_off(error: &MultipartError) -> WebError {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        WebError::TooLarge
    } else {
        WebError::Unreadable
    }
}

/// Hands a form's file on piece by piece; the inner error is what the act refuses.
async fn take_in(
    desk: &Desk,
    id: &StagingId,
    name: String,
    mut field: Field<'_>,
) -> Result<Result<(), crate::app::AppError>, WebError> {
    let mut offset = 0;
    let mut waiting = Vec::new();
    loop {
        let chunk = field.chunk().await.map_err(|error| broken_off(&error))?;
        let last = chunk.is_none();
        waiting.extend_from_slice(&chunk.unwrap_or_default());
        // The last byte is kept back: only then it is known whether more comes.
        if !last && waiting.len() <= PIECE_BYTES {
            continue;
        }
        let length = waiting.len() as u64;
        let total = offset + length + u64::from(!last);
        let piece = std::mem::take(&mut waiting);
        let (id, name) = (id.clone(), name.clone());
        let received = desk
            .try_act(move |workspace| {
                let upload = Upload {
                    name: &name,
                    offset,
                    total,
                };
                staging::receive(workspace, &id, upload, &piece)
            })
            .await?;
        match received {
            Ok(_) if last => return Ok(Ok(())),
            Ok(_) => offset += length,
            Err(error) => return Ok(Err(error)),
        }
    }
}

/// Where a part belongs.
#[derive(Deserialize)]
pub(super) struct Place {
    name: String,
    offset: u64,
    total: u64,
}

/// What the script is told.
#[derive(serde::Serialize)]
#[serde(untagged)]
enum Answer {
    Held(Held),
    Refused { refused: String },
}

/// `PUT /desk/import/{id}/part?name=&offset=&total=`: a part of a file, as the page's script sends them.
pub(super) async fn part(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
    Query(place): Query<Place>,
    bytes: Result<Bytes, BytesRejection>,
) -> Result<Response, WebError> {
    let id = pages::free(&desk, &id)?;
    let bytes = match bytes {
        Ok(bytes) => bytes,
        Err(refused) => return Err(cut_short(&desk, &person, &refused).await?),
    };
    let of = id.clone();
    let received = desk
        .try_act(move |workspace| {
            let upload = Upload {
                name: &place.name,
                offset: place.offset,
                total: place.total,
            };
            staging::receive(workspace, &of, upload, &bytes)
        })
        .await?;
    Ok(match received {
        Ok(held) => {
            if held.whole {
                desk.jobs.forget(&id);
            }
            Json(Answer::Held(held)).into_response()
        }
        Err(error) => {
            note_refused(&desk, &person).await?;
            let refused = error.to_string();
            let status = StatusCode::UNPROCESSABLE_ENTITY;
            (status, Json(Answer::Refused { refused })).into_response()
        }
    })
}

/// What is said of a part that does not come whole; one that is too large is noted.
async fn cut_short(
    desk: &Desk,
    person: &Person,
    refused: &BytesRejection,
) -> Result<WebError, WebError> {
    if refused.status() == StatusCode::PAYLOAD_TOO_LARGE {
        note_refused(desk, person).await?;
        return Ok(WebError::TooLarge);
    }
    Ok(WebError::Unreadable)
}

/// A file that is here, whole or in part.
#[derive(serde::Serialize)]
pub(super) struct HeldFile {
    name: String,
    held: u64,
    whole: bool,
}

/// `GET /desk/import/{id}/held`: what is here, so that an upload goes on where it broke off.
pub(super) async fn held(
    State(desk): State<Desk>,
    Path(id): Path<String>,
) -> Result<Json<Vec<HeldFile>>, WebError> {
    let id = pages::id_in(&id)?;
    let staged = pages::look(&desk, &id).await?;
    let files = staged.files.into_iter().map(|file| HeldFile {
        name: file.name,
        held: file.bytes,
        whole: file.whole,
    });
    Ok(Json(files.collect()))
}
