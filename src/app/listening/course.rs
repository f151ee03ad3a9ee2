//! The course of a listener's visit: what her page is made of, and the steps around the sitting.

use serde_json::json;

use super::ListeningError;
use super::between;
use super::draw;
use super::entry::Listening;
use super::questions::answers_digest;
use super::stage;
use super::stage::Stage;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::links;
use crate::app::log;
use crate::app::secret;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::store::Step;
use crate::study::AnswerSide;
use crate::study::ListenerCode;
use crate::study::RoundState;
use crate::study::SetAside;
use crate::study::StudySettings;
use crate::study::course::Failed;
use crate::study::course::Questions;
use crate::study::course::SoundChecks;
use crate::study::plan::Texts;

/// What a listener's page is made of.
#[derive(Debug, Clone)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "what a page shows or leaves out, each by itself"
)]
pub struct Visit {
    /// The step that comes now.
    pub stage: Stage,
    /// The language of the page, such as `en`.
    pub language: String,
    /// The study's own words.
    pub texts: Texts,
    /// On which side 'correct' stands for her.
    pub side: AnswerSide,
    /// How often a word may be played again.
    pub replays: u32,
    /// Whether an answer may be changed until the next word sounds.
    pub may_change: bool,
    /// The questions before the sound check.
    pub questions: Questions,
    /// What is checked of her sound.
    pub sound_check: SoundChecks,
    /// Whether a rule of the plan may end her sitting before its last word.
    pub may_end_early: bool,
    /// Words from one rest to the next; 0: no rests.
    pub rest_every: u32,
    /// Whether her last sitting ended before its last word, by a rule of the plan.
    pub ended_early: bool,
    /// Whether she said of a word that she knows the speaker.
    pub knew_a_voice: bool,
    /// Words that she will be asked about in a sitting, all kinds together, at most.
    pub words: u32,
    /// About how many bytes of sound a sitting loads.
    pub sound_bytes: u64,
    /// What stands for her in the page's storage; it tells nothing.
    pub tag: String,
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
        let round = reading
            .round(listening.round.id)?
            .ok_or(ListeningError::UnknownBrowser)?;
        let settings = sealed_settings(&round)?;
        let tokens = reading.round_tokens(listening.round.id)?;
        let stage = stage::stage(reading, &listening, &settings, &tokens, now)?;
        let sittings = reading.sittings_of(listening.enrolment.id)?;
        let mut visit = visit_of(stage, &listening, settings, &tokens);
        visit.ended_early = sittings
            .last()
            .is_some_and(|last| last.ended_why.as_deref() == Some(between::SCREENED));
        visit.knew_a_voice = knew_a_voice(reading, &sittings)?;
        Ok(visit)
    })
}

/// Whether she set a word aside because she knows the speaker.
fn knew_a_voice(reading: &Reading<'_>, sittings: &[SittingRow]) -> Result<bool, ListeningError> {
    for sitting in sittings {
        let places = reading.presentations_of(sitting.id)?;
        if places
            .iter()
            .any(|place| place.aside == Some(SetAside::KnownSpeaker))
        {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The study's settings as they were sealed: what `study.toml` says now is for the next round.
pub(super) fn sealed_settings(round: &RoundRow) -> Result<StudySettings, ListeningError> {
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
    let parts = u32::try_from(plan.targets.len()).unwrap_or(1).max(1);
    let words = main + repeats + sitting.checks + sitting.warm_up + sitting.practice * parts;
    let seconds: f64 = tokens.iter().map(|token| token.seconds).sum();
    let mean = if tokens.is_empty() {
        0.0
    } else {
        seconds / tokens.len() as f64
    };
    Visit {
        stage,
        language: settings.language,
        texts: plan.texts.clone(),
        side: listening.enrolment.side,
        replays: sitting.replays,
        may_change: sitting.may_change,
        questions: plan.questions.clone(),
        sound_check: plan.sound_check,
        may_end_early: !plan.screening.rules.is_empty() || plan.practice.failed == Failed::LetGo,
        rest_every: plan.rests.every,
        ended_early: false,
        knew_a_voice: false,
        words,
        sound_bytes: sound_bytes(mean * f64::from(words)),
        tag: links::tag_of(&listening.enrolment.link_sha256),
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

/// As whom a listener agrees, where the plan asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Assent {
    /// She is of age.
    Adult,
    /// She is not, and a parent or guardian agrees too.
    Minor,
}

impl Assent {
    const fn as_str(self) -> &'static str {
        match self {
            Self::Adult => "adult",
            Self::Minor => "minor",
        }
    }
}

/// Notes that she agreed to the consent of that version. `assent` is left out of account where the
/// plan does not ask for it.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] if the text was another one; [`ListeningError::Unanswered`] if
/// the plan asks for the assent of minors and none is given.
pub fn agree(
    workspace: &Workspace,
    cookie: &str,
    consent_version: &str,
    assent: Option<Assent>,
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
        let enrolment = &listening.enrolment;
        let mut body = json!({"listener": enrolment.code, "version": version});
        if listening.plan.texts.assent.is_some() {
            let assent = assent.ok_or(ListeningError::Unanswered)?.as_str();
            writing.note_assent(enrolment.id, assent)?;
            if let Some(fields) = body.as_object_mut() {
                fields.insert("assent".to_owned(), json!(assent));
            }
        }
        writing.note_step(enrolment.id, Step::Consented, &version, now.ms())?;
        log::append(writing, now, "consent", &body)?;
        draw::make_room(writing, &listening, now)
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
    let mut answers = answers.clone();
    workspace.store().write(move |writing| {
        let listening = Listening::of(writing, &cookie, now)?;
        let enrolment = &listening.enrolment;
        if let Some(receipt) = &enrolment.receipt {
            return Ok(receipt.clone());
        }
        let mut sittings = writing.sittings_of(enrolment.id)?;
        if knew_a_voice(writing, &sittings)? {
            // She was not asked again.
            answers.knew_a_voice = Some(KNEW_A_VOICE.to_owned());
        }
        let last = sittings.pop().ok_or(ListeningError::OutOfOrder)?;
        if enrolment.instructed_ms.is_none()
            || stage::is_to_be_heard(&writing.presentations_of(last.id)?)
                && listening.round.state == RoundState::Open
        {
            return Err(ListeningError::OutOfOrder);
        }
        end(writing, &enrolment.code, &last, DONE, now)?;
        let said = serde_json::to_value(&answers).map_err(|error| unreadable(&error))?;
        let text = log::canonical(&said)?.to_string();
        let salt = secret::salt();
        writing.note_step(enrolment.id, Step::Closed, &text, now.ms())?;
        writing.note_closing_salt(enrolment.id, &salt)?;
        // What she said goes with her row if she is erased; no event can be changed.
        let row = answers_digest(&salt, &text)?;
        let body = json!({"listener": enrolment.code, "row": row});
        let head = log::append(writing, now, "finished", &body)?;
        let receipt = head.receipt().to_string();
        writing.note_step(enrolment.id, Step::Finished, &receipt, now.ms())?;
        Ok(receipt)
    })
}

/// What a sitting ended with whose words are all judged.
pub(super) const DONE: &str = "done";

/// The answer of who said while she listened that she knows a speaker.
const KNEW_A_VOICE: &str = "yes";

/// Ends a sitting in which nothing is to be heard any more. Says whether it was still under way.
pub(super) fn end(
    writing: &crate::store::Writing<'_>,
    code: &ListenerCode,
    sitting: &SittingRow,
    why: &str,
    now: Now,
) -> Result<bool, ListeningError> {
    let ended = writing.end_sitting(sitting.id, why, now.ms())?;
    if ended {
        let body = json!({"sitting": sitting.stream, "listener": code, "why": why});
        log::append(writing, now, "sitting over", &body)?;
    }
    Ok(ended)
}

fn unreadable(error: &serde_json::Error) -> ListeningError {
    AppError::Unreadable(error.to_string()).into()
}
