//! The pages of the listener, a struct each, and the handler that shows the one that comes now.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use super::cookie::Known;
use super::error::ListenerError;
use super::facts::Facts;
use super::questions::QuestionsPage;
use super::room::Room;
use super::stops::Stop;
use super::stops::here;
use crate::app::listening;
use crate::app::listening::Example;
use crate::app::listening::Stage;
use crate::app::listening::Told;
use crate::app::listening::Visit;
use crate::app::listening::Why;
use crate::study::AnswerSide;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::ListenerKind;
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

/// `GET /listen`: the page of the stage that the listener has come to.
pub(super) async fn listen(
    State(room): State<Room>,
    Known(cookie): Known,
) -> Result<Html<String>, ListenerError> {
    let visit = visit(&room, cookie).await?;
    let (frame, texts) = frame_for(&room, &visit);
    Ok(page_of(frame, texts, &visit)?)
}

/// Where the listener of this cookie has come to.
pub(super) async fn visit(room: &Room, cookie: String) -> Result<Visit, ListenerError> {
    room.act(move |ws, now| listening::visit(ws, &cookie, now))
        .await
}

/// The frame of her pages, and their sentences.
pub(super) fn frame_for<'a>(room: &'a Room, visit: &Visit) -> (Frame, &'a Texts) {
    let (mut frame, texts) = room.page_in(&visit.language);
    frame.unsent = unsent(texts, visit);
    (frame, texts)
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
    match &visit.stage {
        Stage::Consent => html(&Consent::of(frame, texts, visit)),
        Stage::Questions => html(&QuestionsPage::of(frame, texts, visit)),
        Stage::SoundCheck { sample } => html(&SoundCheck::of(frame, texts, visit, *sample)),
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
        Stage::Closing => html(&Closing::of(frame, texts, visit)),
        Stage::Done { receipt } => html(&Done {
            frame,
            texts,
            study: &visit.texts,
            receipt,
        }),
        Stage::NothingLeft => html(&NothingLeft {
            lead: here(
                &frame,
                &texts.nothing_left.lead,
                &texts.nothing_left.lead_here,
            ),
            frame,
            texts,
        }),
        Stage::Today { .. } => html(&Stop::today(frame, texts, visit)),
        Stage::LeftOut { .. } => html(&Stop::left_out(frame, texts, visit)),
        Stage::Paused => html(&Stop::paused(frame, texts, visit)),
        Stage::RoundClosed => html(&Stop::round_closed(frame, texts)),
    }
}

#[derive(Template)]
#[template(path = "listener/nothing_left.html")]
struct NothingLeft<'a> {
    frame: Frame,
    texts: &'a Texts,
    lead: &'a str,
}

#[derive(Template)]
#[template(path = "listener/consent.html")]
struct Consent<'a> {
    frame: Frame,
    texts: &'a Texts,
    study: &'a plan::Texts,
    facts: Facts,
    may_end_early: bool,
    /// Whether the round is for people without training.
    naive: bool,
    later: &'a str,
}

impl<'a> Consent<'a> {
    fn of(frame: Frame, texts: &'a Texts, visit: &'a Visit) -> Self {
        Self {
            later: here(&frame, &texts.consent.later, &texts.consent.later_here),
            frame,
            texts,
            study: &visit.texts,
            facts: Facts::of(&texts.consent, &visit.effort),
            may_end_early: visit.may_end_early,
            naive: visit.kind == ListenerKind::Naive,
        }
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
pub(super) struct SoundCheck<'a> {
    frame: Frame,
    texts: &'a Texts,
    sample: PresentationId,
    sound: SoundChecks,
}

impl<'a> SoundCheck<'a> {
    pub(super) const fn of(
        frame: Frame,
        texts: &'a Texts,
        visit: &Visit,
        sample: PresentationId,
    ) -> Self {
        Self {
            frame,
            texts,
            sample,
            sound: visit.sound_check,
        }
    }

    fn checks_first_sound(&self) -> bool {
        self.sound.first_sound != Check::Off
    }

    fn checks_headphones(&self) -> bool {
        self.sound.headphones != Check::Off
    }

    /// What is said where a beginning was not told: whoever must pass is not told to go on.
    fn first_bad(&self) -> &str {
        match self.sound.first_sound {
            Check::Require => &self.texts.check.first_bad_required,
            _ => &self.texts.check.first_bad,
        }
    }

    fn headphones_bad(&self) -> &str {
        match self.sound.headphones {
            Check::Require => &self.texts.check.headphones_bad_required,
            _ => &self.texts.check.headphones_bad,
        }
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
    show_word: bool,
    /// Whether she may leave it at the sittings that she did.
    enough: bool,
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
            show_word: visit.show_word,
            enough: visit.may_finish,
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
pub(super) struct Closing<'a> {
    frame: Frame,
    texts: &'a Texts,
    lead: &'a str,
    knew_a_voice: bool,
}

impl<'a> Closing<'a> {
    pub(super) fn of(frame: Frame, texts: &'a Texts, visit: &Visit) -> Self {
        let closing = &texts.closing;
        let lead = if visit.round_over {
            &closing.round_over
        } else if visit.may_finish {
            &closing.enough
        } else if visit.ended_early {
            &closing.early
        } else {
            &closing.lead
        };
        Self {
            frame,
            texts,
            lead,
            knew_a_voice: visit.knew_a_voice,
        }
    }
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
