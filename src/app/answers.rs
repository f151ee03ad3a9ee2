//! Known answers: two people, each for herself, say what a word is that watches over listeners.

use std::path::Path;

use serde_json::json;

use super::AppError;
use super::Now;
use super::Workspace;
use super::exclude;
use super::files;
use super::log;
use super::secret;
use crate::exchange;
use crate::seal;
use crate::seal::Digest;
use crate::store::KnownAnswerRow;
use crate::store::Reading;
use crate::store::SingleJudgeRow;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::JudgeCode;
use crate::study::KnownAnswer;
use crate::study::Use;

/// Who gave the answer that a word was imported with.
pub const MANIFEST: &str = "manifest";

/// How a known answer stands.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case", tag = "standing", content = "reason")]
pub enum Standing {
    /// Two people or more say the same.
    Agreed,
    /// One person alone says so: it counts, and every report says by how few.
    ByOne,
    /// One person alone says so, for a reason that was noted.
    ByOneBecause(String),
    /// People differ: it does not count, and no plan that plays the word is sealed.
    Disputed,
}

/// A word whose answer is to be known, with all that people say of it. For the desk, never for
/// somebody who is still to answer.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct KnownWord {
    /// The recording as the manifest called it.
    pub file: String,
    /// SHA-256 of its prepared sound.
    pub sha256: String,
    /// Check or practice.
    #[serde(rename = "use")]
    pub use_: Use,
    /// Who says what, the manifest first.
    pub answers: Vec<(String, KnownAnswer)>,
    /// How it stands.
    #[serde(flatten)]
    pub standing: Standing,
}

/// The check and practice words with all that is said of them.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn known_words(workspace: &Workspace) -> Result<Vec<KnownWord>, AppError> {
    workspace.store().read(known_words_of)
}

pub(super) fn known_words_of(reading: &Reading<'_>) -> Result<Vec<KnownWord>, AppError> {
    let further = reading.known_answers()?;
    let singles = reading.single_judges()?;
    let words = reading.tokens()?.into_iter().filter(is_to_be_known);
    Ok(words
        .map(|token| {
            let first = token.key.answer.map(|answer| (MANIFEST.to_owned(), answer));
            let others = further.iter().filter(|row| row.token == token.id);
            let answers: Vec<_> = first
                .into_iter()
                .chain(others.map(|row| (row.judge.to_string(), row.answer)))
                .collect();
            let reason = singles.iter().find(|row| row.token == token.id);
            KnownWord {
                standing: standing(&answers, reason.map(|row| row.reason.as_str())),
                file: token.key.file.unwrap_or_default(),
                sha256: token.prepared.sha256,
                use_: token.key.use_,
                answers,
            }
        })
        .collect())
}

fn is_to_be_known(token: &TokenRow) -> bool {
    matches!(token.key.use_, Use::Check | Use::Practice) && token.excluded.is_none()
}

fn standing(answers: &[(String, KnownAnswer)], reason: Option<&str>) -> Standing {
    let differ = answers
        .windows(2)
        .any(|two| matches!(two, [(_, one), (_, other)] if one != other));
    match (differ, answers.len(), reason) {
        (true, ..) => Standing::Disputed,
        (false, 2.., _) => Standing::Agreed,
        (false, _, Some(reason)) => Standing::ByOneBecause(reason.to_owned()),
        (false, _, None) => Standing::ByOne,
    }
}

/// A word that somebody is still to answer: nothing in it tells what others said.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Unanswered {
    /// SHA-256 of the prepared sound; it names the word to [`answer`].
    pub sha256: String,
    /// The word.
    pub word: String,
}

/// The words that a judge has not answered yet, in an order that tells nothing: by their digests.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn unanswered(workspace: &Workspace, judge: &JudgeCode) -> Result<Vec<Unanswered>, AppError> {
    workspace.store().read(|reading| {
        let mut answered = reading.known_answers()?;
        answered.retain(|row| row.judge == *judge);
        let words = reading.tokens()?.into_iter().filter(is_to_be_known);
        let mut words: Vec<_> = words
            .filter(|token| answered.iter().all(|row| row.token != token.id))
            .map(|token| Unanswered {
                sha256: token.prepared.sha256,
                word: token.key.word.text(),
            })
            .collect();
        words.sort_by(|one, other| one.sha256.cmp(&other.sha256));
        Ok(words)
    })
}

/// Notes what a judge says of a word; it takes the place of what the same judge said before. The
/// judge [`MANIFEST`] corrects the answer that the word was imported with, until it is sealed.
///
/// # Errors
/// [`AppError::Refused`] for a word that is neither check nor practice, a divided check word, and a
/// correction of what was sealed.
pub fn answer(
    workspace: &Workspace,
    word: &str,
    judge: &JudgeCode,
    answer: KnownAnswer,
    now: Now,
) -> Result<(), AppError> {
    let (words, judge) = ([word.to_owned()], judge.clone());
    workspace.store().write(move |writing| {
        for token in exclude::named(writing, &words)? {
            note(writing, &token, &judge, answer, None, now)?;
        }
        Ok(())
    })
}

/// Notes what a judge says of a word, and that it took the place of what the same judge said before.
pub(super) fn note(
    writing: &Writing<'_>,
    token: &TokenRow,
    judge: &JudgeCode,
    answer: KnownAnswer,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    check_answer(token, answer)?;
    if judge.as_str() == MANIFEST {
        if writing.was_sealed(token.id)? {
            return Err(AppError::refused(
                "the answer of this word was sealed with a round",
                "exclude the word from later rounds",
            ));
        }
        writing.correct_answer(token.id, answer)?;
        let body = log::by(json!({}), by);
        log::append(writing, now, "imported answer corrected", &body)?;
        return Ok(());
    }
    let before = writing.known_answers()?;
    let before = before
        .iter()
        .find(|row| row.token == token.id && row.judge == *judge);
    if let Some(before) = before {
        let body = log::by(json!({"rows": [answer_digest(before)?]}), by);
        log::append(writing, now, "known answers replaced", &body)?;
    }
    let row = KnownAnswerRow {
        token: token.id,
        samples_sha256: token.samples_sha256.clone(),
        judge: judge.clone(),
        answer,
        given_ms: now.ms(),
        salt: secret::salt(),
    };
    writing.note_answer(&row)?;
    let body = log::by(json!({"rows": [answer_digest(&row)?]}), by);
    log::append(writing, now, "known answers", &body)?;
    Ok(())
}

fn check_answer(token: &TokenRow, answer: KnownAnswer) -> Result<(), AppError> {
    match (token.key.use_, answer) {
        (Use::Check, KnownAnswer::Divided) => Err(AppError::refused(
            "a check word needs one clear answer",
            "say correct or distorted, or exclude the word",
        )),
        (Use::Check | Use::Practice, _) => Ok(()),
        _ => Err(AppError::refused(
            "this word is neither for checks nor for practice",
            "only those need a known answer",
        )),
    }
}

/// Notes why one person's answer is to be enough for some words.
///
/// # Errors
/// [`AppError::Refused`] for a word that two people answered, or of which a reason was noted.
pub fn accept_single_judge(
    workspace: &Workspace,
    words: &[String],
    reason: &str,
    now: Now,
) -> Result<(), AppError> {
    let (words, reason) = (words.to_vec(), reason.trim().to_owned());
    if reason.is_empty() {
        return Err(AppError::refused(
            "the reason is empty",
            "write why no second person could be asked",
        ));
    }
    workspace.store().write(move |writing| {
        let known = known_words_of(writing)?;
        let mut rows = Vec::new();
        for token in exclude::named(writing, &words)? {
            let by_one = known.iter().any(|word| {
                word.sha256 == token.prepared.sha256 && word.standing == Standing::ByOne
            });
            if !by_one {
                return Err(AppError::refused(
                    format!(
                        "{} is no word that one person answered without a reason noted",
                        token.key.file.unwrap_or_default()
                    ),
                    "leave it out of the list",
                ));
            }
            let row = SingleJudgeRow {
                token: token.id,
                samples_sha256: token.samples_sha256,
                reason: reason.clone(),
                noted_ms: now.ms(),
                salt: secret::salt(),
            };
            writing.note_single_judge(&row)?;
            rows.push(single_digest(&row)?);
        }
        rows.sort_unstable();
        log::append(writing, now, "single judge", &json!({"rows": rows}))?;
        Ok(())
    })
}

/// What the log says of a known answer.
pub(super) fn answer_digest(row: &KnownAnswerRow) -> Result<Digest, AppError> {
    let value = json!({
        "samples_sha256": row.samples_sha256,
        "judge": row.judge,
        "answer": row.answer,
        "given_ms": row.given_ms,
    });
    Ok(seal::commit(&row.salt, &log::canonical(&value)?))
}

/// What the log says of a reason for a single judge.
pub(super) fn single_digest(row: &SingleJudgeRow) -> Result<Digest, AppError> {
    let value = json!({
        "samples_sha256": row.samples_sha256,
        "reason": row.reason,
        "noted_ms": row.noted_ms,
    });
    Ok(seal::commit(&row.salt, &log::canonical(&value)?))
}

/// How many words of one use a plan needs, and how many there are.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct NeededWords {
    /// Check or practice.
    #[serde(rename = "use")]
    pub use_: Use,
    /// Words that the plan's sittings need of one listener: none is asked of her twice.
    pub wanted: u32,
    /// Words on which two people agree.
    pub by_two: usize,
    /// Words that one person answered.
    pub by_one: usize,
    /// Words on which people differ.
    pub disputed: usize,
    /// Words that are still to be found.
    pub still_needed: u32,
}

/// How many check and practice words a plan still needs.
///
/// # Errors
/// [`AppError::Input`] if the plan is wrong; [`AppError::Store`] if the study cannot be read.
pub fn needed_words(workspace: &Workspace, plan: &Path) -> Result<Vec<NeededWords>, AppError> {
    let plan = exchange::read_plan(&plan.display().to_string(), &files::read_text(plan)?)?;
    let words = known_words(workspace)?;
    let uses = [
        (Use::Check, plan.sitting.checks),
        (Use::Practice, plan.sitting.practice),
    ];
    Ok(needed_of(&words, uses, plan.listeners.sittings))
}

/// The same for sittings of a shape: places of each use in a sitting, and sittings of a listener.
pub(super) fn needed_of(
    words: &[KnownWord],
    uses: [(Use, u32); 2],
    sittings: u32,
) -> Vec<NeededWords> {
    uses.into_iter()
        .map(|(use_, places)| {
            let of = |wanted: fn(&Standing) -> bool| {
                let fits = |word: &&KnownWord| word.use_ == use_ && wanted(&word.standing);
                words.iter().filter(fits).count()
            };
            let by_two = of(|standing| *standing == Standing::Agreed);
            let disputed = of(|standing| *standing == Standing::Disputed);
            let by_one = of(|_| true) - by_two - disputed;
            let wanted = places.saturating_mul(sittings);
            let there = u32::try_from(by_two + by_one).unwrap_or(u32::MAX);
            NeededWords {
                use_,
                wanted,
                by_two,
                by_one,
                disputed,
                still_needed: wanted.saturating_sub(there),
            }
        })
        .collect()
}
