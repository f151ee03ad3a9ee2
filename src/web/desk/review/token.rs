//! One token: seen, measured, heard as it was recorded and as listeners hear it.

use std::fmt::Write;

use askama::Template;
use axum::extract::Path;
use axum::extract::Query;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::RANGE;
use axum::response::Html;
use axum::response::Response;

use super::list::Asked;
use crate::app::Now;
use crate::app::Person;
use crate::app::review;
use crate::app::review::Outline;
use crate::app::review::Play;
use crate::app::review::Reviewed;
use crate::app::review::Sound;
use crate::app::review::Unmasked;
use crate::report::chart;
use crate::report::number;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;
use crate::web::range::served;

/// Columns of an outline: one for two units of the picture's width.
const COLUMNS: usize = 360;

#[derive(Template)]
#[template(path = "desk/review_token.html")]
struct TokenPage {
    frame: DeskFrame,
    token: Reviewed,
    place: usize,
    of: usize,
    before: Option<String>,
    after: Option<String>,
    mark: String,
    outlines: [Outline; 2],
    unmasked: Option<Unmasked>,
}

/// `GET /desk/recordings/review/{name}?mark=`.
pub(super) async fn token(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    html(&page(&desk, &person, name, &asked).await?)
}

/// `POST /desk/recordings/review/{name}/unmask?mark=`: whose it is; that somebody asked is logged.
pub(super) async fn unmask(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut page = page(&desk, &person, name.clone(), &asked).await?;
    let (shuffle, account) = (desk.shuffle.clone(), person.code.clone());
    let unmasked = desk
        .act(move |workspace| review::unmask(workspace, &shuffle, &name, &account, Now::read()))
        .await?;
    page.unmasked = Some(unmasked);
    html(&page)
}

async fn page(
    desk: &Desk,
    person: &Person,
    name: String,
    asked: &Asked,
) -> Result<TokenPage, WebError> {
    let frame = desk.frame(person, Section::Recordings).await?;
    let (shuffle, filter) = (desk.shuffle.clone(), asked.filter());
    let of_name = name.clone();
    let (tokens, outlines) = desk
        .act(move |workspace| {
            let (tokens, _) = review::reviewed(workspace, &shuffle, &filter)?;
            let outlines = review::outlines(workspace, &shuffle, &of_name, COLUMNS)?;
            Ok((tokens, outlines))
        })
        .await?;
    let place = tokens.iter().position(|token| token.name == name);
    let place = place.ok_or(WebError::NotFound)?;
    let named = |place: Option<usize>| {
        let token = place.and_then(|place| tokens.get(place));
        token.map(|token| token.name.clone())
    };
    Ok(TokenPage {
        frame,
        of: tokens.len(),
        before: named(place.checked_sub(1)),
        after: named(Some(place + 1)),
        token: tokens.get(place).cloned().ok_or(WebError::NotFound)?,
        place: place + 1,
        mark: asked.mark.clone(),
        outlines,
        unmasked: None,
    })
}

/// `GET /desk/recordings/review/{name}/recorded`: the sound as it was recorded.
pub(super) async fn recorded(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    sound(&desk, &person, name, Sound::Recorded, &headers).await
}

/// `GET /desk/recordings/review/{name}/prepared`: the sound as listeners hear it.
pub(super) async fn prepared(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    sound(&desk, &person, name, Sound::Prepared, &headers).await
}

async fn sound(
    desk: &Desk,
    person: &Person,
    name: String,
    sound: Sound,
    headers: &HeaderMap,
) -> Result<Response, WebError> {
    let range = headers.get(RANGE).and_then(|value| value.to_str().ok());
    // A browser asks for the end of what it plays in further requests: they are one play.
    let play = if range.is_none_or(|range| range.starts_with("bytes=0-")) {
        Play::Begun
    } else {
        Play::GoesOn
    };
    let (shuffle, account) = (desk.shuffle.clone(), person.code.clone());
    let bytes = desk
        .act(move |workspace| {
            review::sound(
                workspace,
                &shuffle,
                &name,
                sound,
                (play, &account),
                Now::read(),
            )
        })
        .await?;
    Ok(served(bytes, range, "audio/wav"))
}

impl TokenPage {
    fn recorded_picture(&self) -> String {
        let [outline, _] = &self.outlines;
        let title = "As it was recorded";
        chart::waveform("recorded", title, outline.seconds, None, &outline.columns)
    }

    fn prepared_picture(&self) -> String {
        let [_, outline] = &self.outlines;
        let title = "As listeners hear it";
        let onset = Some(self.token.onset_ms / 1000.0);
        chart::waveform("prepared", title, outline.seconds, onset, &outline.columns)
    }

    /// The address of another token under the same filter.
    fn address(&self, name: &str) -> String {
        format!(
            "/desk/recordings/review/{name}?mark={}",
            encoded(&self.mark)
        )
    }

    fn level(&self) -> String {
        format!("{} LUFS", number::fixed(self.token.recorded_lufs, 1))
    }

    fn gain(&self) -> String {
        let gain = number::fixed(self.token.gain_db.abs(), 1);
        if self.token.gain_db < 0.0 {
            format!("made {gain} dB quieter")
        } else {
            format!("made {gain} dB louder")
        }
    }

    fn noise(&self) -> String {
        let told = self.token.snr_db;
        told.map_or_else(
            || "cannot be told: there is no silence around the word".to_owned(),
            |db| format!("{} dB under the word", number::fixed(db, 0)),
        )
    }

    fn bandwidth(&self) -> String {
        format!(
            "up to {} kHz",
            number::fixed(self.token.bandwidth_hz / 1000.0, 1)
        )
    }
}

/// A value as it stands in an address: letters and digits as they are, all else by its bytes.
pub(super) fn encoded(value: &str) -> String {
    let mut text = String::new();
    for byte in value.bytes() {
        if byte.is_ascii_alphanumeric() {
            text.push(char::from(byte));
        } else {
            let _ = write!(text, "%{byte:02X}");
        }
    }
    text
}
