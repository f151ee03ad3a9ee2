//! Words are left out with a coded reason, before anybody judged them, and taken in again.

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::listening;
use super::log;
use super::secret;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::ExclusionRow;
use crate::store::Reading;
use crate::store::TokenRow;
use crate::study::Exclusion;

/// A word that is excluded, for the desk alone.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Excluded {
    /// The recording as the manifest called it.
    pub file: String,
    /// SHA-256 of its prepared sound.
    pub sha256: String,
    /// Why it is left out.
    pub reason: Exclusion,
}

/// The words that are excluded.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn excluded(workspace: &Workspace) -> Result<Vec<Excluded>, AppError> {
    workspace.store().read(|reading| {
        let tokens = reading.tokens()?;
        let rows = reading.exclusions()?.into_iter();
        Ok(rows
            .filter_map(|row| {
                let token = tokens.iter().find(|token| token.id == row.token)?;
                Some(Excluded {
                    file: token.key.file.clone().unwrap_or_default(),
                    sha256: token.prepared.sha256.clone(),
                    reason: row.reason,
                })
            })
            .collect())
    })
}

/// Excludes words, all or none. Each is named as its manifest called the file, or by the SHA-256 of
/// its prepared sound. In an open round what waits of them is dropped. A word that is excluded
/// already gets the new reason.
///
/// # Errors
/// [`AppError::Refused`] for a name that is no word's or several words', and for a word that
/// somebody judged: leaving it out now would be choosing by its result.
pub fn exclude(
    workspace: &Workspace,
    words: &[String],
    reason: Exclusion,
    now: Now,
) -> Result<(), AppError> {
    leave_out(workspace, words, reason, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`exclude`].
pub fn exclude_by(
    workspace: &Workspace,
    words: &[String],
    reason: Exclusion,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    leave_out(workspace, words, reason, Some(by), now)
}

fn leave_out(
    workspace: &Workspace,
    words: &[String],
    reason: Exclusion,
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    let (words, by) = (words.to_vec(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let mut rows = Vec::new();
        let mut before = Vec::new();
        for token in named(writing, &words)? {
            if writing.was_judged(token.id)? {
                return Err(AppError::refused(
                    format!("{} was judged already", shown(&token)),
                    "keep it: a word may be left out only before anybody judged it",
                ));
            }
            before.extend(digest_in_force(writing, &token)?);
            let salt = secret::salt();
            writing.exclude(token.id, reason, now.ms(), &salt)?;
            rows.push(exclusion_digest(&salt, &token.samples_sha256, reason)?);
        }
        log_taken_in(writing, before, by.as_deref(), now)?;
        rows.sort_unstable();
        let body = log::by(json!({"rows": rows}), by.as_deref());
        log::append(writing, now, "words excluded", &body)?;
        listening::drop_unused(writing, now)
    })
}

/// Takes excluded words in again, all or none; names are as for [`exclude`].
///
/// # Errors
/// [`AppError::Refused`] for a name that is no excluded word's.
pub fn include(workspace: &Workspace, words: &[String], now: Now) -> Result<(), AppError> {
    take_in(workspace, words, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`include()`].
pub fn include_by(
    workspace: &Workspace,
    words: &[String],
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    take_in(workspace, words, Some(by), now)
}

fn take_in(
    workspace: &Workspace,
    words: &[String],
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    let (words, by) = (words.to_vec(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let mut rows = Vec::new();
        for token in named(writing, &words)? {
            let row = digest_in_force(writing, &token)?.ok_or_else(|| {
                AppError::refused(
                    format!("{} is not excluded", shown(&token)),
                    "leave it out of the list",
                )
            })?;
            writing.include(token.id)?;
            rows.push(row);
        }
        log_taken_in(writing, rows, by.as_deref(), now)
    })
}

fn log_taken_in(
    writing: &crate::store::Writing<'_>,
    mut rows: Vec<Digest>,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    if !rows.is_empty() {
        rows.sort_unstable();
        let body = log::by(json!({"rows": rows}), by);
        log::append(writing, now, "words taken in", &body)?;
    }
    Ok(())
}

fn digest_in_force(reading: &Reading<'_>, token: &TokenRow) -> Result<Option<Digest>, AppError> {
    let rows = reading.exclusions()?;
    let row = rows.iter().find(|row| row.token == token.id);
    row.map_or(Ok(None), digest_of_row)
}

/// What the log says of an exclusion, as its row gives it.
pub(super) fn digest_of_row(row: &ExclusionRow) -> Result<Option<Digest>, AppError> {
    row.salt
        .map(|salt| exclusion_digest(&salt, &row.samples_sha256, row.reason))
        .transpose()
}

/// What the log says of an exclusion: a salted digest of which sound and why.
fn exclusion_digest(salt: &Salt, samples_sha256: &str, why: Exclusion) -> Result<Digest, AppError> {
    let value = json!({"samples_sha256": samples_sha256, "reason": why});
    Ok(seal::commit(salt, &log::canonical(&value)?))
}

/// The tokens of that name, each once and in the order of the names.
pub(super) fn named(reading: &Reading<'_>, words: &[String]) -> Result<Vec<TokenRow>, AppError> {
    let tokens = reading.tokens()?;
    let mut found: Vec<TokenRow> = Vec::new();
    for word in words {
        let mut called = tokens.iter().filter(|token| {
            token.key.file.as_ref() == Some(word) || token.prepared.sha256 == *word
        });
        let (Some(token), None) = (called.next(), called.next()) else {
            let several = tokens
                .iter()
                .any(|token| token.key.file.as_ref() == Some(word));
            return Err(if several {
                AppError::refused(
                    format!("several recordings are called {word}"),
                    "name the one by the SHA-256 of its prepared sound",
                )
            } else {
                AppError::refused(
                    format!("no recording of this study is called {word}"),
                    "name it as the manifest did",
                )
            });
        };
        if found.iter().all(|other| other.id != token.id) {
            found.push(token.clone());
        }
    }
    Ok(found)
}

fn shown(token: &TokenRow) -> String {
    token.key.file.clone().unwrap_or_default()
}
