//! The course of a listener's visit: which step comes now, and the steps around the sitting.

use serde_json::json;

use super::ListeningError;
use super::draw;
use super::entry::Listening;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::store::Step;
use crate::study::AnswerSide;
use crate::study::KnownAnswer;
use crate::study::ListenerCode;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::RoundState;
use crate::study::StudySettings;
use crate::study::Word;
use crate::study::plan::Texts;

/// What a listener's page is made of.
#[derive(Debug, Clone)]
pub struct Visit {
    /// The step that comes now.
    pub stage: Stage,
    /// The language of the page, such as `en`.
    pub language: String,
    /// The sound under judgement: "the s sound".
    pub target: String,
    /// The study's own words.
    pub texts: Texts,
    /// On which side 'correct' stands for her.
    pub side: AnswerSide,
    /// How often a word may be played again.
    pub replays: u32,
    /// Whether an answer may be changed until the next word sounds.
    pub may_change: bool,
    /// Words that she will be asked about in a sitting, all kinds together, at most.
    pub words: u32,
    /// About how many bytes of sound a sitting loads.
    pub sound_bytes: u64,
}

/// The step that comes now.
#[derive(Debug, Clone, PartialEq)]
pub enum Stage {
    /// She has not agreed yet.
    Consent,
    /// She agreed; the sound is to be checked on this sample.
    SoundCheck {
        /// What the check plays.
        sample: PresentationId,
    },
    /// The sound was checked; she reads and hears what to judge.
    WhatToJudge {
        /// Examples with their answers.
        examples: Vec<Example>,
    },
    /// She judges: practice, then the sitting itself.
    Sitting,
    /// Every word was judged, in all sittings; the closing questions come.
    Closing,
    /// All is done.
    Done {
        /// Her receipt.
        receipt: String,
    },
    /// Every word has all the judgements it needs.
    NothingLeft,
    /// The round takes no more judgements.
    RoundClosed,
}

/// An example of what to judge.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// What plays it.
    pub id: PresentationId,
    /// The word.
    pub word: Word,
    /// What it is an example of.
    pub answer: KnownAnswer,
}

/// What a listener said of her sound.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
pub struct SoundCheck {
    /// What she listens with, in the page's terms (`headphones`, `loudspeaker`, …).
    pub device: String,
    /// Whether she heard the sample well.
    pub heard: bool,
    /// How far below the prepared level her page plays, in dB (0 or less).
    pub level_db: Option<i8>,
}

/// What a listener said at the end.
#[derive(Debug, Clone, Default, serde::Serialize, serde::Deserialize)]
pub struct ClosingAnswers {
    /// Could you tell early recordings from late ones?
    pub told_early_from_late: Option<String>,
    /// What do you think was compared?
    pub thought_compared: Option<String>,
    /// Did you know a voice?
    pub knew_a_voice: Option<String>,
    /// Anything else.
    pub remark: Option<String>,
}

/// Which step comes now, with all that its page needs.
///
/// # Errors
/// [`ListeningError::UnknownBrowser`], or a link that was taken back or has run out.
pub fn visit(workspace: &Workspace, cookie: &str, now: Now) -> Result<Visit, ListeningError> {
    workspace.store().read(|reading| {
        let listening = Listening::of(reading, cookie, now)?;
        let settings = sealed_settings(&listening.round)?;
        let tokens = reading.round_tokens(listening.round.id)?;
        let stage = stage(reading, &listening, &tokens)?;
        Ok(visit_of(stage, &listening, settings, &tokens))
    })
}

/// The study's settings as they were sealed: what `study.toml` says now is for the next round.
fn sealed_settings(round: &RoundRow) -> Result<StudySettings, ListeningError> {
    #[derive(serde::Deserialize)]
    struct Document {
        study: StudySettings,
    }
    let document: Document = serde_json::from_str(&round.document).map_err(|e| unreadable(&e))?;
    Ok(document.study)
}

fn visit_of(
    stage: Stage,
    listening: &Listening,
    settings: StudySettings,
    tokens: &[RoundTokenRow],
) -> Visit {
    let plan = &listening.plan;
    let sitting = &plan.sitting;
    let scored = tokens
        .iter()
        .filter(|token| token.stratum.is_some() && token.in_use)
        .count();
    let main = u32::try_from(scored)
        .unwrap_or(u32::MAX)
        .min(sitting.tokens);
    let repeats = u32::try_from(plan.repeats_among(main as usize)).unwrap_or(0);
    let words = main + repeats + sitting.checks + sitting.warm_up + sitting.practice;
    let seconds: f64 = tokens.iter().map(|token| token.seconds).sum();
    let mean = if tokens.is_empty() {
        0.0
    } else {
        seconds / tokens.len() as f64
    };
    Visit {
        stage,
        language: settings.language,
        target: settings.target,
        texts: plan.texts.clone(),
        side: listening.enrolment.side,
        replays: sitting.replays,
        may_change: sitting.may_change,
        words,
        sound_bytes: sound_bytes(mean * f64::from(words)),
    }
}

/// Bytes of 16-bit samples at 48 kHz, which FLAC packs to about a third.
fn sound_bytes(seconds: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length in seconds is small and not negative"
    )]
    {
        (seconds * 32_000.0).round() as u64
    }
}

fn stage(
    reading: &Reading<'_>,
    listening: &Listening,
    tokens: &[RoundTokenRow],
) -> Result<Stage, ListeningError> {
    let enrolment = &listening.enrolment;
    if let Some(receipt) = &enrolment.receipt {
        return Ok(Stage::Done {
            receipt: receipt.clone(),
        });
    }
    if listening.round.state != RoundState::Open {
        return Ok(Stage::RoundClosed);
    }
    let sittings = reading.sittings_of(enrolment.id)?;
    let Some(sitting) = sittings.last().filter(|_| enrolment.consented_ms.is_some()) else {
        return Ok(Stage::Consent);
    };
    let places = reading.presentations_of(sitting.id)?;
    if enrolment.sound_check_ms.is_none() {
        let sample = places
            .iter()
            .find(|place| place.state != PresentationState::Dropped)
            .map(|place| place.id)
            .ok_or(ListeningError::NotHere)?;
        return Ok(Stage::SoundCheck { sample });
    }
    if sitting.ended_ms.is_none() && !is_drawn(&places) {
        return Ok(Stage::WhatToJudge {
            examples: examples(&places, tokens),
        });
    }
    Ok(if sitting.ended_ms.is_none() && is_to_be_heard(&places) {
        Stage::Sitting
    } else if is_drawn(&places) || sittings.len() > 1 {
        Stage::Closing
    } else {
        Stage::NothingLeft
    })
}

/// Whether a sitting has more than what is played before its first question.
pub(super) fn is_drawn(places: &[PresentationRow]) -> bool {
    places
        .iter()
        .any(|place| place.kind != PresentationKind::Example)
}

/// Whether anything but examples is still to be heard in a sitting.
fn is_to_be_heard(places: &[PresentationRow]) -> bool {
    places.iter().any(|place| {
        place.kind != PresentationKind::Example
            && matches!(
                place.state,
                PresentationState::Reserved | PresentationState::Returned
            )
    })
}

fn examples(places: &[PresentationRow], tokens: &[RoundTokenRow]) -> Vec<Example> {
    places
        .iter()
        .filter(|place| {
            place.kind == PresentationKind::Example && place.state != PresentationState::Dropped
        })
        .filter_map(|place| {
            let token = tokens.iter().find(|token| token.id == place.token)?;
            Some(Example {
                id: place.id,
                word: token.word.clone(),
                answer: token.answer?,
            })
        })
        .collect()
}

/// Notes that she agreed to the consent of that version.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] if the text was another one.
pub fn agree(
    workspace: &Workspace,
    cookie: &str,
    consent_version: &str,
    now: Now,
) -> Result<(), ListeningError> {
    let (cookie, version) = (cookie.to_owned(), consent_version.to_owned());
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        if version != listening.plan.texts.consent_version {
            return Err(ListeningError::OutOfOrder);
        }
        if listening.enrolment.consented_ms.is_some() {
            return Ok(());
        }
        writing.note_step(listening.enrolment.id, Step::Consented, &version, now.ms())?;
        let body = json!({"listener": listening.enrolment.code, "version": version});
        log::append(writing, now, "consent", &body)?;
        draw::make_room(writing, &listening, now)
    })
}

/// Notes what she said of her sound.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before she agreed.
pub fn record_sound_check(
    workspace: &Workspace,
    cookie: &str,
    check: &SoundCheck,
    now: Now,
) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    let said = serde_json::to_value(check).map_err(|error| unreadable(&error))?;
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        if listening.enrolment.consented_ms.is_none() {
            return Err(ListeningError::OutOfOrder);
        }
        let text = log::canonical(&said)?.to_string();
        writing.note_step(listening.enrolment.id, Step::SoundChecked, &text, now.ms())?;
        let body = json!({"listener": listening.enrolment.code, "said": said});
        log::append(writing, now, "sound check", &body)?;
        Ok(())
    })
}

/// Notes her closing answers and gives the receipt.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] while words are still to be judged.
pub fn finish(
    workspace: &Workspace,
    cookie: &str,
    answers: &ClosingAnswers,
    now: Now,
) -> Result<String, ListeningError> {
    let cookie = cookie.to_owned();
    let said = serde_json::to_value(answers).map_err(|error| unreadable(&error))?;
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let enrolment = &listening.enrolment;
        if let Some(receipt) = &enrolment.receipt {
            return Ok(receipt.clone());
        }
        let last = writing
            .sittings_of(enrolment.id)?
            .pop()
            .ok_or(ListeningError::OutOfOrder)?;
        if enrolment.instructed_ms.is_none()
            || is_to_be_heard(&writing.presentations_of(last.id)?)
                && listening.round.state == RoundState::Open
        {
            return Err(ListeningError::OutOfOrder);
        }
        end(writing, &enrolment.code, &last, now)?;
        let text = log::canonical(&said)?.to_string();
        writing.note_step(enrolment.id, Step::Closed, &text, now.ms())?;
        let body = json!({"listener": enrolment.code, "said": said});
        let head = log::append(writing, now, "finished", &body)?;
        let receipt = head.receipt().to_string();
        writing.note_step(enrolment.id, Step::Finished, &receipt, now.ms())?;
        Ok(receipt)
    })
}

/// Ends a sitting in which nothing is to be heard any more. Says whether it was still under way.
pub(super) fn end(
    writing: &crate::store::Writing<'_>,
    code: &ListenerCode,
    sitting: &SittingRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let ended = writing.end_sitting(sitting.id, "done", now.ms())?;
    if ended {
        let body = json!({"sitting": sitting.stream, "listener": code, "why": "done"});
        log::append(writing, now, "sitting over", &body)?;
    }
    Ok(ended)
}

fn unreadable(error: &serde_json::Error) -> ListeningError {
    AppError::Unreadable(error.to_string()).into()
}
