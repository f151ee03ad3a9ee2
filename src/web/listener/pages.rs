//! The pages of the listener, a struct each, and the handler that shows the one that comes now.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::header::SET_COOKIE;
use axum::response::{Html, IntoResponse, Redirect};

use super::cookie;
use super::cookie::Known;
use super::error::ListenerError;
use super::room::Room;
use super::texts::Texts;
use super::texts::fill;
use crate::app::listening;
use crate::app::listening::Example;
use crate::app::listening::Stage;
use crate::app::listening::Visit;
use crate::study::AnswerSide;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::PresentationId;
use crate::study::plan;
use crate::web::Frame;
use crate::web::html;
use crate::web::way::Way;

/// Seconds from one word to the next, and minutes for all else (ours).
const SECONDS_A_WORD: u32 = 6;
const MINUTES_BESIDES: u32 = 4;

/// `GET /l/{secret}`: the invitation becomes a cookie, and the secret leaves the address.
pub(super) async fn open_link(
    State(room): State<Room>,
    Path(secret): Path<String>,
    way: Way,
) -> Result<impl IntoResponse, ListenerError> {
    let opened = room
        .act(move |ws, now| listening::open_link(ws, &secret, now))
        .await?;
    let cookie = cookie::set(&opened.cookie, &way);
    Ok(([(SET_COOKIE, cookie)], Redirect::to("/listen")))
}

/// `GET /listen`: the page of the stage that the listener has come to.
pub(super) async fn listen(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let (frame, texts) = room.page_in(&visit.language);
    Ok(match &visit.stage {
        Stage::Consent => html(&Consent {
            frame,
            texts,
            study: &visit.texts,
            words: visit.words,
            sound_bytes: visit.sound_bytes,
        }),
        Stage::SoundCheck { sample } => html(&SoundCheck {
            frame,
            texts,
            sample: *sample,
        }),
        Stage::WhatToJudge { examples } => html(&WhatToJudge::of(frame, texts, &visit, examples)),
        Stage::Sitting => html(&Sitting::of(frame, texts, &visit)),
        Stage::Closing => html(&Closing { frame, texts }),
        Stage::Done { receipt } => html(&Done {
            frame,
            texts,
            study: &visit.texts,
            receipt,
        }),
        Stage::NothingLeft => html(&Notice::plain(
            frame,
            &texts.nothing_left.title,
            &texts.nothing_left.lead,
        )),
        Stage::RoundClosed => html(&Notice::plain(
            frame,
            &texts.round_closed.title,
            &texts.round_closed.lead,
        )),
    }?)
}

#[derive(Template)]
#[template(path = "listener/consent.html")]
struct Consent<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    words: u32,
    sound_bytes: u64,
}

impl Consent<'_> {
    fn minutes(&self) -> String {
        let minutes = (self.words * SECONDS_A_WORD).div_ceil(60) + MINUTES_BESIDES;
        fill(&self.texts.consent.minutes, &[("minutes", &minutes)])
    }

    fn words(&self) -> String {
        fill(&self.texts.consent.words, &[("words", &self.words)])
    }

    fn megabytes(&self) -> String {
        let megabytes = (self.sound_bytes).div_ceil(1_000_000);
        fill(&self.texts.consent.words_more, &[("megabytes", &megabytes)])
    }

    fn consent(&self) -> Vec<&str> {
        paragraphs(&self.study.consent)
    }
}

#[derive(Template)]
#[template(path = "listener/sound_check.html")]
struct SoundCheck<'a> {
    frame: Frame,
    texts: &'a Texts,
    sample: PresentationId,
}

#[derive(Template)]
#[template(path = "listener/what_to_judge.html")]
struct WhatToJudge<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    target: &'a str,
    examples: &'a [Example],
    replays: u32,
    may_change: bool,
}

impl<'a> WhatToJudge<'a> {
    fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit, examples: &'a [Example]) -> Self {
        Self {
            frame,
            texts,
            study: &visit.texts,
            target: &visit.target,
            examples,
            replays: visit.replays,
            may_change: visit.may_change,
        }
    }

    fn target(&self) -> String {
        fill(&self.texts.judge.target, &[("target", &self.target)])
    }

    fn instruction(&self) -> Vec<&str> {
        paragraphs(&self.study.instruction)
    }

    fn how_again(&self) -> String {
        fill(&self.texts.judge.how_again, &[("replays", &self.replays)])
    }
}

#[derive(Template)]
#[template(path = "listener/sitting.html")]
struct Sitting<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    side: AnswerSide,
    replays: u32,
    may_change: bool,
}

impl<'a> Sitting<'a> {
    fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit) -> Self {
        Self {
            frame,
            texts,
            study: &visit.texts,
            side: visit.side,
            replays: visit.replays,
            may_change: visit.may_change,
        }
    }

    /// The two answers from left to right.
    const fn sides(&self) -> [Judgement; 2] {
        match self.side {
            AnswerSide::Left => [Judgement::Correct, Judgement::Distorted],
            AnswerSide::Right => [Judgement::Distorted, Judgement::Correct],
        }
    }

    fn correct(&self) -> &str {
        self.study
            .correct
            .as_ref()
            .unwrap_or(&self.texts.page.correct)
    }

    fn distorted(&self) -> &str {
        self.study
            .distorted
            .as_ref()
            .unwrap_or(&self.texts.page.distorted)
    }
}

#[derive(Template)]
#[template(path = "listener/closing.html")]
struct Closing<'a> {
    frame: Frame,
    texts: &'a Texts,
}

#[derive(Template)]
#[template(path = "listener/done.html")]
struct Done<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    receipt: &'a str,
}

impl Done<'_> {
    fn thanks(&self) -> Vec<&str> {
        paragraphs(self.study.thanks.as_ref().unwrap_or(&self.texts.done.lead))
    }
}

/// A page of one sentence, with the way back where there is one.
#[derive(Template)]
#[template(path = "listener/notice.html")]
pub(super) struct Notice<'a> {
    pub(super) frame: Frame,
    pub(super) title: &'a str,
    pub(super) sentence: &'a str,
    pub(super) back: Option<&'a String>,
}

impl<'a> Notice<'a> {
    const fn plain(frame: Frame, title: &'a str, sentence: &'a str) -> Self {
        Self {
            frame,
            title,
            sentence,
            back: None,
        }
    }
}

/// A text's paragraphs; blank lines divide them.
fn paragraphs(text: &str) -> Vec<&str> {
    let parts = text.split("\n\n").map(str::trim);
    parts.filter(|part| !part.is_empty()).collect()
}
