//! What the script of the sitting asks and tells, in JSON.

use axum::Json;
use axum::extract::rejection::JsonRejection;
use axum::extract::{Path, State};
use serde::{Deserialize, Serialize};

use super::error::ListenerError;
use super::own_page::OwnPage;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::Answered;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::Place;
use crate::study::PlayName;
use crate::study::PresentationId;
use crate::study::Presented;
use crate::study::SetAside;

/// A word ahead, as the script knows it.
#[derive(Serialize)]
pub(super) struct WordAhead {
    id: PresentationId,
    word: Option<Vec<Letters>>,
    place: Place,
    practice: bool,
    plays: u32,
}

#[derive(Serialize)]
struct Letters {
    letters: String,
    judged: bool,
}

impl From<Presented> for WordAhead {
    fn from(presented: Presented) -> Self {
        let letters = |word: crate::study::Word| {
            let parts = word.parts().iter();
            parts
                .map(|part| Letters {
                    letters: part.letters.clone(),
                    judged: part.judged,
                })
                .collect()
        };
        Self {
            id: presented.id,
            word: presented.word.map(letters),
            place: presented.place,
            practice: presented.practice,
            plays: presented.plays,
        }
    }
}

/// An answer, as the script sends it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    answer: Judgement,
    revision: u32,
    rt_ms: Option<u32>,
    rt_grain_ms: Option<u32>,
    replays: u32,
}

/// A play of a word to its end, as the script names it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Played {
    play: String,
}

/// A reason to set a word aside, as the script sends it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reason {
    reason: SetAside,
}

/// What the server says to an answer.
#[derive(Serialize)]
pub(super) struct Said {
    feedback: Option<KnownAnswer>,
    place: Place,
}

/// `GET /listen/ahead`: the word to judge now and at most two more; none when all are judged.
pub(super) async fn ahead(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
) -> Result<Json<Vec<WordAhead>>, ListenerError> {
    let ahead = room
        .act(move |ws, now| listening::ahead(ws, &cookie, now))
        .await?;
    Ok(Json(ahead.into_iter().map(WordAhead::from).collect()))
}

/// `PUT /listen/judgement/{id}`: the same again gets the same answer.
pub(super) async fn judge(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    Path(id): Path<String>,
    sent: Result<Json<Sent>, JsonRejection>,
) -> Result<Json<Said>, ListenerError> {
    let id = id_in(&id)?;
    let Json(sent) = sent.map_err(|_| ListenerError::Unreadable)?;
    let answered = Answered {
        answer: sent.answer,
        revision: sent.revision,
        rt_ms: sent.rt_ms,
        rt_grain_ms: sent.rt_grain_ms,
        replays: sent.replays,
    };
    let recorded = room
        .act(move |ws, now| listening::judge(ws, &cookie, id, answered, now))
        .await?;
    Ok(Json(Said {
        feedback: recorded.feedback,
        place: recorded.place,
    }))
}

/// `PUT /listen/aside/{id}`: a word that cannot be judged.
pub(super) async fn set_aside(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    Path(id): Path<String>,
    sent: Result<Json<Reason>, JsonRejection>,
) -> Result<Json<serde_json::Value>, ListenerError> {
    let id = id_in(&id)?;
    let Json(Reason { reason }) = sent.map_err(|_| ListenerError::Unreadable)?;
    room.act(move |ws, now| listening::set_aside(ws, &cookie, id, reason, now))
        .await?;
    Ok(Json(serde_json::json!({})))
}

/// `PUT /listen/played/{id}`: the word was heard to its end; says how often it was in all.
pub(super) async fn played(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    Path(id): Path<String>,
    sent: Result<Json<Played>, JsonRejection>,
) -> Result<Json<serde_json::Value>, ListenerError> {
    let id = id_in(&id)?;
    let Json(Played { play }) = sent.map_err(|_| ListenerError::Unreadable)?;
    let name: PlayName = play.parse().map_err(|_| ListenerError::Unreadable)?;
    let plays = room
        .act(move |ws, now| listening::played(ws, &cookie, id, name, now))
        .await?;
    Ok(Json(serde_json::json!({ "plays": plays })))
}

/// `PUT /listen/void/{id}`: the word was cut short while it first sounded.
pub(super) async fn void(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    Path(id): Path<String>,
) -> Result<Json<serde_json::Value>, ListenerError> {
    let id = id_in(&id)?;
    room.act(move |ws, now| listening::void(ws, &cookie, id, now))
        .await?;
    Ok(Json(serde_json::json!({})))
}

/// The presentation that an address names; anything else is simply not there.
pub(super) fn id_in(address: &str) -> Result<PresentationId, ListenerError> {
    address.parse().map_err(|_| ListenerError::NotFound)
}
