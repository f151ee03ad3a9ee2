//! The pages of the listener, a struct each, and the handler that shows the one that comes now.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use super::cookie::Known;
use super::error::ListenerError;
use super::questions::QuestionsPage;
use super::room::Room;
use crate::app::listening;
use crate::app::listening::Example;
use crate::app::listening::Stage;
use crate::app::listening::Told;
use crate::app::listening::Visit;
use crate::app::listening::Why;
use crate::study::AnswerSide;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::Place;
use crate::study::PresentationId;
use crate::study::course::Check;
use crate::study::course::SoundChecks;
use crate::study::plan;
use crate::web::Frame;
use crate::web::Unsent;
use crate::web::WebError;
use crate::web::html;
use crate::web::texts::Texts;
use crate::web::texts::fill;

/// Seconds from one word to the next, and minutes for all else (ours).
const SECONDS_A_WORD: u32 = 6;
const MINUTES_BESIDES: u32 = 4;

/// `GET /listen`: the page of the stage that the listener has come to.
pub(super) async fn listen(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, &visit);
    Ok(page_of(frame, texts, &visit)?)
}

/// What every page but the sitting's own needs to send what waits.
fn unsent(texts: &Texts, visit: &Visit) -> Option<Unsent> {
    (visit.stage != Stage::Sitting).then(|| Unsent {
        tag: visit.tag.clone(),
        text: texts.sitting.unsaved.clone(),
    })
}

/// The page of a stage.
fn page_of(frame: Frame, texts: &Texts, visit: &Visit) -> Result<Html<String>, WebError> {
    let notice = |frame, title, lead| html(&Notice::plain(frame, title, lead));
    match &visit.stage {
        Stage::Consent => html(&Consent::of(frame, texts, visit)),
        Stage::Questions => html(&QuestionsPage::of(frame, texts, &visit.questions)),
        Stage::SoundCheck { sample } => html(&SoundCheck {
            frame,
            texts,
            sample: *sample,
            sound: visit.sound_check,
        }),
        Stage::LeftOut => notice(frame, &texts.left_out.title, &texts.left_out.lead),
        Stage::WhatToJudge { told, examples } => {
            html(&WhatToJudge::of(frame, texts, visit, told, examples))
        }
        Stage::Sitting => html(&Sitting::of(frame, texts, visit)),
        Stage::Practice {
            why,
            told,
            examples,
        } => html(&Practice {
            frame,
            texts,
            words: AnswerWords::of_study(texts, &visit.texts),
            why: *why,
            told,
            examples,
        }),
        Stage::Rest { place, examples } => html(&Rest {
            frame,
            texts,
            words: AnswerWords::of_study(texts, &visit.texts),
            place: *place,
            examples,
        }),
        Stage::Today { .. } => notice(frame, &texts.today.title, &texts.today.lead),
        Stage::Closing => html(&Closing {
            frame,
            texts,
            early: visit.ended_early,
            knew_a_voice: visit.knew_a_voice,
        }),
        Stage::Done { receipt } => html(&Done {
            frame,
            texts,
            study: &visit.texts,
            receipt,
        }),
        Stage::NothingLeft => html(&NothingLeft { frame, texts }),
        Stage::Paused => html(&Notice {
            frame,
            title: &texts.paused.title,
            sentence: &texts.paused.lead,
            back: Some(&texts.paused.again),
        }),
        Stage::RoundClosed => notice(frame, &texts.round_closed.title, &texts.round_closed.lead),
    }
}

/// `GET /listen/later`: she stops for today. Nothing is kept of it: her place waits as it is.
pub(super) async fn later(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = room
        .act(move |ws, now| listening::visit(ws, &cookie, now))
        .await?;
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, &visit);
    Ok(html(&Notice {
        frame,
        title: &texts.later.title,
        sentence: &texts.later.lead,
        back: Some(&texts.later.go_on),
    })?)
}

#[derive(Template)]
#[template(path = "listener/nothing_left.html")]
struct NothingLeft<'a> {
    frame: Frame,
    texts: &'a Texts,
}

#[derive(Template)]
#[template(path = "listener/consent.html")]
struct Consent<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    words: u32,
    sound_bytes: u64,
    rests: u32,
    may_end_early: bool,
}

impl<'a> Consent<'a> {
    fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit) -> Self {
        Self {
            frame,
            texts,
            study: &visit.texts,
            words: visit.words,
            sound_bytes: visit.sound_bytes,
            rests: visit.words.checked_div(visit.rest_every).unwrap_or(0),
            may_end_early: visit.may_end_early,
        }
    }

    fn minutes(&self) -> String {
        let minutes = (self.words * SECONDS_A_WORD).div_ceil(60) + MINUTES_BESIDES + self.rests;
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

    fn payment(&self) -> Vec<&str> {
        paragraphs(self.study.payment.as_deref().unwrap_or_default())
    }

    fn assent(&self) -> Vec<&str> {
        paragraphs(self.study.assent.as_deref().unwrap_or_default())
    }
}

#[derive(Template)]
#[template(path = "listener/sound_check.html")]
struct SoundCheck<'a> {
    frame: Frame,
    texts: &'a Texts,
    sample: PresentationId,
    sound: SoundChecks,
}

impl SoundCheck<'_> {
    fn checks_first_sound(&self) -> bool {
        self.sound.first_sound != Check::Off
    }

    fn checks_headphones(&self) -> bool {
        self.sound.headphones != Check::Off
    }
}

#[derive(Template)]
#[template(path = "listener/what_to_judge.html")]
struct WhatToJudge<'a> {
    frame: Frame,
    texts: &'a Texts,
    words: AnswerWords<'a>,
    told: &'a Told,
    examples: &'a [Example],
    replays: u32,
    may_change: bool,
}

impl<'a> WhatToJudge<'a> {
    fn of(
        frame: Frame,
        texts: &'a Texts,
        visit: &'a Visit,
        told: &'a Told,
        examples: &'a [Example],
    ) -> Self {
        Self {
            frame,
            texts,
            words: AnswerWords::of_study(texts, &visit.texts),
            told,
            examples,
            replays: visit.replays,
            may_change: visit.may_change,
        }
    }

    fn part(&self) -> String {
        let told = self.told;
        fill(
            &self.texts.judge.part,
            &[("part", &told.part), ("of", &told.of)],
        )
    }

    fn target(&self) -> String {
        fill(&self.texts.judge.target, &[("target", &self.told.target)])
    }

    fn instruction(&self) -> Vec<&str> {
        paragraphs(&self.told.instruction)
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
    words: AnswerWords<'a>,
    side: AnswerSide,
    replays: u32,
    may_change: bool,
    tag: &'a str,
}

impl<'a> Sitting<'a> {
    fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit) -> Self {
        Self {
            frame,
            texts,
            words: AnswerWords::of_study(texts, &visit.texts),
            side: visit.side,
            replays: visit.replays,
            may_change: visit.may_change,
            tag: &visit.tag,
        }
    }

    /// The two answers from left to right.
    const fn sides(&self) -> [Judgement; 2] {
        match self.side {
            AnswerSide::Left => [Judgement::Correct, Judgement::Distorted],
            AnswerSide::Right => [Judgement::Distorted, Judgement::Correct],
        }
    }
}

/// What the two answers are called: the study's own words, or the page's.
struct AnswerWords<'a> {
    correct: &'a str,
    distorted: &'a str,
}

impl<'a> AnswerWords<'a> {
    fn of_study(texts: &'a Texts, study: &'a plan::Texts) -> Self {
        Self {
            correct: study.correct.as_ref().unwrap_or(&texts.page.correct),
            distorted: study.distorted.as_ref().unwrap_or(&texts.page.distorted),
        }
    }

    const fn of(&self, answer: Judgement) -> &'a str {
        match answer {
            Judgement::Correct => self.correct,
            Judgement::Distorted => self.distorted,
        }
    }

    /// A sentence that names an answer.
    fn told(&self, sentence: &str, answer: Judgement) -> String {
        fill(sentence, &[("answer", &self.of(answer))])
    }
}

/// The practice once more.
#[derive(Template)]
#[template(path = "listener/practice.html")]
struct Practice<'a> {
    frame: Frame,
    texts: &'a Texts,
    words: AnswerWords<'a>,
    why: Why,
    told: &'a Told,
    examples: &'a [Example],
}

impl Practice<'_> {
    fn title(&self) -> &str {
        match self.why {
            Why::NotYet => &self.texts.practice.title,
            Why::Away => &self.texts.practice.title_away,
        }
    }

    fn lead(&self) -> &str {
        match self.why {
            Why::NotYet => &self.texts.practice.lead,
            Why::Away => &self.texts.practice.lead_away,
        }
    }

    fn target(&self) -> String {
        fill(&self.texts.judge.target, &[("target", &self.told.target)])
    }

    fn instruction(&self) -> Vec<&str> {
        paragraphs(&self.told.instruction)
    }
}

#[derive(Template)]
#[template(path = "listener/rest.html")]
struct Rest<'a> {
    frame: Frame,
    texts: &'a Texts,
    words: AnswerWords<'a>,
    place: Place,
    examples: &'a [Example],
}

impl Rest<'_> {
    fn done(&self) -> String {
        let Place { done, of } = self.place;
        fill(&self.texts.rest.done, &[("done", &done), ("of", &of)])
    }
}

#[derive(Template)]
#[template(path = "listener/closing.html")]
struct Closing<'a> {
    frame: Frame,
    texts: &'a Texts,
    /// Whether fewer words came than were announced.
    early: bool,
    knew_a_voice: bool,
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
    pub(super) const fn plain(frame: Frame, title: &'a str, sentence: &'a str) -> Self {
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
