//! The forms of the listener's page; each leads back to the page of the stage that comes next.

use std::collections::BTreeMap;

use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::response::Redirect;
use serde::Deserialize;

use super::error::ListenerError;
use super::own_page::OwnPage;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::Assent;
use crate::app::listening::ClosingAnswers;
use crate::app::listening::SoundCheck;
use crate::app::listening::ToldSounds;

type Filled<T> = Result<Form<T>, FormRejection>;

#[derive(Deserialize)]
pub(super) struct Agreement {
    version: String,
    agreed: String,
    age: Option<Age>,
    guardian: Option<String>,
}

/// Whether she is of age, where the plan asks.
#[derive(Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Age {
    Adult,
    Minor,
}

impl Agreement {
    /// As whom she agrees, where the plan asks; nobody under age does so alone.
    fn assent(&self) -> Result<Option<Assent>, ListenerError> {
        match self.age {
            None => Ok(None),
            Some(Age::Adult) => Ok(Some(Assent::Adult)),
            Some(Age::Minor) if self.guardian.as_deref() == Some("yes") => Ok(Some(Assent::Minor)),
            Some(Age::Minor) => Err(ListenerError::NoGuardian),
        }
    }
}

/// `POST /listen/consent`.
pub(super) async fn agree(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    filled: Filled<Agreement>,
) -> Result<Redirect, ListenerError> {
    let Form(agreement) = filled.map_err(|_| ListenerError::Unreadable)?;
    if agreement.agreed != "yes" {
        return Err(ListenerError::Unreadable);
    }
    let assent = agreement.assent()?;
    room.act(move |ws, now| listening::agree(ws, &cookie, &agreement.version, assent, now))
        .await?;
    Ok(onward())
}

/// `POST /listen/questions`: one answer to each.
pub(super) async fn answer(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    filled: Filled<BTreeMap<String, String>>,
) -> Result<Redirect, ListenerError> {
    let Form(answers) = filled.map_err(|_| ListenerError::Unreadable)?;
    room.act(move |ws, now| listening::answer(ws, &cookie, answers, now))
        .await?;
    Ok(onward())
}

#[derive(Deserialize)]
pub(super) struct SoundChecked {
    device: Device,
    heard: Heard,
    level_db: Option<i8>,
    first_right: Option<String>,
    first_of: Option<String>,
    first_tries: Option<String>,
    headphones_right: Option<String>,
    headphones_of: Option<String>,
    headphones_tries: Option<String>,
}

/// What a check came to; nothing where it was not made.
fn told(right: Option<&String>, of: Option<&String>, tries: Option<&String>) -> Option<ToldSounds> {
    Some(ToldSounds {
        right: right?.parse().ok()?,
        of: of?.parse().ok()?,
        tries: tries?.parse().ok()?,
    })
}

/// What a listener listens with.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Device {
    WiredHeadphones,
    Wireless,
    BuiltIn,
    WiredLoudspeaker,
}

impl Device {
    const fn as_str(self) -> &'static str {
        match self {
            Self::WiredHeadphones => "wired-headphones",
            Self::Wireless => "wireless",
            Self::BuiltIn => "built-in",
            Self::WiredLoudspeaker => "wired-loudspeaker",
        }
    }
}

/// Whether she heard the sample whole.
#[derive(Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Heard {
    Yes,
    No,
}

/// `POST /listen/sound-check`.
pub(super) async fn sound_check(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    filled: Filled<SoundChecked>,
) -> Result<Redirect, ListenerError> {
    let Form(said) = filled.map_err(|_| ListenerError::Unreadable)?;
    let check = SoundCheck {
        device: said.device.as_str().to_owned(),
        heard: said.heard == Heard::Yes,
        level_db: said.level_db,
        first_sound: told(
            said.first_right.as_ref(),
            said.first_of.as_ref(),
            said.first_tries.as_ref(),
        ),
        headphones: told(
            said.headphones_right.as_ref(),
            said.headphones_of.as_ref(),
            said.headphones_tries.as_ref(),
        ),
    };
    room.act(move |ws, now| listening::record_sound_check(ws, &cookie, &check, now))
        .await?;
    Ok(onward())
}

/// Of which part she read what to judge; nothing where she looks again for words.
#[derive(Deserialize)]
pub(super) struct Told {
    part: Option<u32>,
}

/// `POST /listen/begin`: what to judge was read.
pub(super) async fn begin(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    filled: Filled<Told>,
) -> Result<Redirect, ListenerError> {
    let told = filled.ok().and_then(|Form(told)| told.part).unwrap_or(1);
    room.act(move |ws, now| listening::begin(ws, &cookie, told, now))
        .await?;
    Ok(onward())
}

/// `POST /listen/go-on`: after a rest, into the next part, into practice once more.
pub(super) async fn go_on(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
) -> Result<Redirect, ListenerError> {
    room.act(move |ws, now| listening::go_on(ws, &cookie, now))
        .await?;
    Ok(onward())
}

/// `POST /listen/closing`: every question may stay empty.
pub(super) async fn finish(
    State(room): State<Room>,
    OwnPage(cookie): OwnPage,
    filled: Filled<ClosingAnswers>,
) -> Result<Redirect, ListenerError> {
    let Form(answers) = filled.map_err(|_| ListenerError::Unreadable)?;
    room.act(move |ws, now| listening::finish(ws, &cookie, &answers, now))
        .await?;
    Ok(onward())
}

fn onward() -> Redirect {
    Redirect::to("/listen")
}
