//! The questions before the sound check: one choice of several each, asked once.

use std::collections::BTreeMap;

use serde_json::json;

use super::ListeningError;
use super::course::Assent;
use super::entry::Listening;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::Writing;
use crate::study::course::NOT_SAID;
use crate::study::course::Question;
use crate::study::course::Questions;
use crate::study::course::UNDER_AGE;

/// Records the answers to the plan's questions, by their names. The first answers stand.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before she agreed; [`ListeningError::Unanswered`] where a question
/// has no answer or none of its own choices.
pub fn answer(
    workspace: &Workspace,
    cookie: &str,
    answers: BTreeMap<String, String>,
    now: Now,
) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        let enrolment = &listening.enrolment;
        if enrolment.consented_ms.is_none() {
            return Err(ListeningError::OutOfOrder);
        }
        let assent = Assent::of(enrolment);
        let answers = checked(&listening.plan.questions, assent, &answers)?;
        if enrolment.answered_ms.is_some() {
            return Ok(());
        }
        note(writing, &listening, &answers, now)
    })
}

fn note(
    writing: &Writing<'_>,
    listening: &Listening,
    answers: &BTreeMap<&str, String>,
    now: Now,
) -> Result<(), ListeningError> {
    let enrolment = &listening.enrolment;
    let salt = secret::salt();
    let text = log::canonical(&json!(answers))?.to_string();
    writing.note_answers(enrolment.id, &text, &salt, now.ms())?;
    let body = json!({
        "listener": enrolment.code,
        "row": answers_digest(&salt, &text)?,
    });
    log::append(writing, now, "answers", &body)?;
    Ok(())
}

/// The questions that are put to a listener: who agreed as a minor has told her age by that.
pub(super) fn put_to(questions: &Questions, assent: Option<Assent>) -> Questions {
    let mut put = questions.clone();
    if assent == Some(Assent::Minor) {
        put.ask.retain(|question| *question != Question::Age);
    }
    put
}

/// Notes the answers of whoever told all that the plan asks by how she agreed.
pub(super) fn note_told(
    writing: &Writing<'_>,
    listening: &Listening,
    assent: Option<Assent>,
    now: Now,
) -> Result<(), ListeningError> {
    let questions = &listening.plan.questions;
    if questions.is_empty() || !put_to(questions, assent).is_empty() {
        return Ok(());
    }
    let answers = checked(questions, assent, &BTreeMap::new())?;
    note(writing, listening, &answers, now)
}

/// Each question of the plan with the choice that was made. An age never contradicts how she agreed.
fn checked<'q>(
    questions: &'q Questions,
    assent: Option<Assent>,
    answers: &BTreeMap<String, String>,
) -> Result<BTreeMap<&'q str, String>, ListeningError> {
    let asked = questions.asked();
    asked
        .into_iter()
        .map(|(name, choices)| {
            let of_age = match assent.filter(|_| name == Question::Age.name()) {
                Some(Assent::Minor) => return Ok((name, UNDER_AGE.to_owned())),
                Some(Assent::Adult) => true,
                None => false,
            };
            let said = answers
                .get(name)
                .filter(|said| !of_age || said.as_str() != UNDER_AGE)
                .filter(|said| choices.contains(&said.as_str()) || said.as_str() == NOT_SAID);
            let said = said.ok_or(ListeningError::Unanswered)?;
            Ok((name, said.clone()))
        })
        .collect()
}

/// What the log says of a listener's answers: a salted digest of the text that is kept.
pub(in crate::app) fn answers_digest(salt: &Salt, answers: &str) -> Result<Digest, AppError> {
    Ok(seal::commit(salt, &log::canonical(&json!(answers))?))
}
