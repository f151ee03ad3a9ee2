//! Staff hear a word of an unlocked round; the log tells each play.

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::files;
use super::log;
use super::results;
use crate::audio::flac;
use crate::study::Unlocked;

/// The event of a word that staff heard. It tells the round, and not which word: that would be a child's.
pub(super) const HEARD: &str = "word played by staff";

/// The prepared sound of a word of an unlocked round, as a whole FLAC file. `token`: its name in the report;
/// `begins`: whether a play begins, rather than goes on where a browser asked for a part.
///
/// # Errors
/// [`AppError::Refused`] if the round has no such word; [`AppError::File`] if its sound cannot be read.
pub fn hear_word(
    workspace: &Workspace,
    unlocked: &Unlocked,
    token: &str,
    by: &Person,
    begins: bool,
    now: Now,
) -> Result<Vec<u8>, AppError> {
    let record = results::record(workspace, unlocked)?;
    let known = record.tokens.into_iter().find(|known| known.name == token);
    let known = known.ok_or_else(|| {
        AppError::refused(
            format!("round {} has no word of that name", unlocked.round()),
            "take the name from the report",
        )
    })?;
    let prepared = files::read(&workspace.prepared(&known.audio_sha256))?;
    let sound = flac::of_wav(&prepared).map_err(AppError::Unreadable)?;
    if begins {
        let body = log::by(json!({"round": unlocked.round()}), Some(&by.code));
        workspace
            .store()
            .write(move |writing| log::append(writing, now, HEARD, &body))?;
    }
    Ok(sound)
}
