//! The probe sheet: the study's words in a random order that can be printed again.

use super::AppError;
use super::Workspace;
use super::secret;
use crate::blinding::Seed;
use crate::seal::Digest;
use crate::study::Word;

/// A probe sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProbeSheet {
    /// Its number: the order's, and that of the list of words that it was drawn from.
    pub number: String,
    /// The words in the order in which they are asked for.
    pub words: Vec<Word>,
    /// Whether the list of words is another now than when the number was drawn: the sheet is not the one printed then.
    pub outdated: bool,
}

/// A number for a fresh sheet, drawn by the operating system.
///
/// # Errors
/// [`AppError::Refused`] where the study lists no words.
pub fn draw_sheet(workspace: &Workspace) -> Result<String, AppError> {
    let words = words(workspace)?;
    let order: String = secret::token().chars().take(ORDER).collect();
    Ok(format!("{order}-{}", version_of(&words)))
}

/// The sheet of a number: the same words in the same order, as long as the list is the same.
///
/// # Errors
/// [`AppError::Refused`] for no such number, and where the study lists no words.
pub fn sheet(workspace: &Workspace, number: &str) -> Result<ProbeSheet, AppError> {
    let mut words = words(workspace)?;
    let plain = |part: &str| {
        part.bytes()
            .all(|b| b.is_ascii_digit() || b.is_ascii_lowercase())
    };
    let (order, version) = number
        .split_once('-')
        .filter(|(order, version)| order.len() == ORDER && plain(order) && plain(version))
        .ok_or_else(|| AppError::refused("there is no such sheet", "draw a fresh one"))?;
    let outdated = version != version_of(&words);
    let seed = Digest::of(format!("fairhearing probe sheet 1\n{order}").as_bytes());
    Seed::new(*seed.as_bytes()).sitting(0).shuffle(&mut words);
    Ok(ProbeSheet {
        number: number.to_owned(),
        words,
        outdated,
    })
}

/// Letters and digits of the order's number.
const ORDER: usize = 8;

/// The study's words: those that its settings list, and before there are any, those that were recorded.
fn words(workspace: &Workspace) -> Result<Vec<Word>, AppError> {
    let listed = workspace.settings()?.words;
    if !listed.is_empty() {
        return Ok(listed);
    }
    let tokens = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let scored = tokens
        .into_iter()
        .filter(|token| token.key.use_.is_scored());
    let mut words: Vec<Word> = scored.map(|token| token.key.word).collect();
    words.sort();
    words.dedup();
    if words.is_empty() {
        return Err(AppError::refused(
            "the study lists no words yet",
            "list them on the study's page",
        ));
    }
    Ok(words)
}

/// The version of a list of words: six digits of its digest.
fn version_of(words: &[Word]) -> String {
    let lines: Vec<String> = words.iter().map(ToString::to_string).collect();
    let digest = Digest::of(lines.join("\n").as_bytes()).to_string();
    digest.chars().take(6).collect()
}
