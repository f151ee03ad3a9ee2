//! The questions before the sound check: one choice of several each, asked once.

use std::collections::BTreeMap;

use serde_json::json;

use super::ListeningError;
use super::entry::Listening;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::study::course::NOT_SAID;
use crate::study::course::Questions;

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
        let answers = checked(&listening.plan.questions, &answers)?;
        if enrolment.answered_ms.is_some() {
            return Ok(());
        }
        let salt = secret::salt();
        let text = log::canonical(&json!(answers))?.to_string();
        writing.note_answers(enrolment.id, &text, &salt, now.ms())?;
        let body = json!({
            "listener": enrolment.code,
            "row": answers_digest(&salt, &text)?,
        });
        log::append(writing, now, "answers", &body)?;
        Ok(())
    })
}

/// Each question of the plan with the choice that was made.
fn checked<'q>(
    questions: &'q Questions,
    answers: &BTreeMap<String, String>,
) -> Result<BTreeMap<&'q str, String>, ListeningError> {
    let asked = questions.asked();
    asked
        .into_iter()
        .map(|(name, choices)| {
            let said = answers
                .get(name)
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
