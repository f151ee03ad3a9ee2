//! The course of a listener's visit: what her page is made of, and the steps around the sitting.

use serde_json::json;

use super::ListeningError;
use super::draw;
use super::effort::Effort;
use super::entry::Listening;
use super::questions;
use super::questions::answers_digest;
use super::screen;
use super::stage;
use super::stage::Stage;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::links;
use crate::app::log;
use crate::app::secret;
use crate::store::Enrolment;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::RoundTokenRow;
use crate::store::SittingRow;
use crate::store::Step;
use crate::study::AnswerSide;
use crate::study::ListenerCode;
use crate::study::ListenerKind;
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
    /// Whether the word is shown with its letters marked.
    pub show_word: bool,
    /// Whom the round is for: only the naive are told that they need no training.
    pub kind: ListenerKind,
    /// The questions before the sound check.
    pub questions: Questions,
    /// Whether she said that she is of age, so that her age is asked for without the choice of less.
    pub of_age: bool,
    /// What is checked of her sound.
    pub sound_check: SoundChecks,
    /// Whether a rule of the plan may end her sitting before its last word.
    pub may_end_early: bool,
    /// Whether her last sitting ended before its last word, by a rule of the plan.
    pub ended_early: bool,
    /// Whether the round takes no more judgements.
    pub round_over: bool,
    /// Whether she stands between two sittings and may leave it at what she judged.
    pub may_finish: bool,
    /// Whether she said of a word that she knows the speaker.
    pub knew_a_voice: bool,
    /// What listening asks of her.
    pub effort: Effort,
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
            .is_some_and(|last| last.ended_why.as_deref() == Some(screen::SCREENED));
        visit.knew_a_voice = knew_a_voice(reading, &sittings)?;
        visit.may_finish = may_finish(reading, &listening, &sittings)?;
        Ok(visit)
    })
}

/// Whether a sitting lies behind her and the next is not begun, so that she may leave it at that.
fn may_finish(
    reading: &Reading<'_>,
    listening: &Listening,
    sittings: &[SittingRow],
) -> Result<bool, ListeningError> {
    let [_, .., last] = sittings else {
        return Ok(false);
    };
    let waits = last.ended_ms.is_none() && listening.enrolment.receipt.is_none();
    let open = listening.round.state == RoundState::Open;
    Ok(open && waits && !stage::is_begun(&reading.presentations_of(last.id)?))
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
    let assent = Assent::of(&listening.enrolment);
    Visit {
        stage,
        language: settings.language,
        texts: plan.texts.clone(),
        side: listening.enrolment.side,
        replays: plan.sitting.replays,
        may_change: plan.sitting.may_change,
        show_word: plan.sitting.show_word,
        kind: listening.enrolment.kind,
        questions: questions::put_to(&plan.questions, assent),
        of_age: assent == Some(Assent::Adult),
        sound_check: plan.sound_check,
        may_end_early: !plan.screening.rules.is_empty() || plan.practice.failed == Failed::LetGo,
        ended_early: false,
        round_over: listening.round.state != RoundState::Open,
        may_finish: false,
        knew_a_voice: false,
        effort: Effort::of(plan, tokens),
        tag: links::tag_of(&listening.enrolment.link_sha256),
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
    /// As whom a listener agreed, where the plan asked.
    pub(super) fn of(enrolment: &Enrolment) -> Option<Self> {
        let said = enrolment.assent.as_deref();
        [Self::Adult, Self::Minor]
            .into_iter()
            .find(|assent| said == Some(assent.as_str()))
    }

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
        let asked = listening.plan.texts.assent.is_some();
        writing.note_step(enrolment.id, Step::Consented, &version, now.ms())?;
        log::append(writing, now, "consent", &body)?;
        questions::note_told(writing, &listening, assent.filter(|_| asked), now)?;
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
        let cut_off = stage::is_to_be_heard(&writing.presentations_of(last.id)?);
        let open = listening.round.state == RoundState::Open;
        if enrolment.instructed_ms.is_none() || cut_off && open {
            return Err(ListeningError::OutOfOrder);
        }
        let why = if cut_off { CLOSED } else { DONE };
        end(writing, &enrolment.code, &last, why, now)?;
        if open {
            screen::look_at_the_end(writing, &listening, &last, now)?;
        }
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

/// What a sitting ended with that the round's own end cut off.
const CLOSED: &str = "closed";

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
