//! A few words of a child, heard by whoever treats her; the log tells each play as it does of any word.

use super::outcome_of_child;
use super::unlocked_rounds;
use crate::analysis;
use crate::analysis::ComparedSession;
use crate::analysis::RoundFindings;
use crate::analysis::WordToHear;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::findings;
use crate::app::hear;
use crate::study::ChildCode;
use crate::study::Unlocked;

/// A session at one end of the comparison, with the words to hear.
pub struct SessionToHear {
    /// The session.
    pub session: ComparedSession,
    /// Its words, as the rule chose them.
    pub words: Vec<WordToHear>,
    unlocked: Unlocked,
}

/// The words to hear of the first session and of the last one; none where the child is not compared.
///
/// # Errors
/// As for [`outcome_of_child`].
pub fn words_of_child(
    workspace: &Workspace,
    child: &ChildCode,
) -> Result<Vec<SessionToHear>, AppError> {
    let Some(found) = outcome_of_child(workspace, child)?.findings else {
        return Ok(Vec::new());
    };
    let Some(ends) = analysis::ends_of_contrast(&found, child.as_str()) else {
        return Ok(Vec::new());
    };
    let rounds = unlocked_rounds(workspace)?;
    let mut sessions = Vec::new();
    for session in ends {
        let unlocked = rounds
            .iter()
            .find(|unlocked| unlocked.round().as_str() == session.round)
            .ok_or_else(|| AppError::Unreadable(format!("round {}", session.round)))?;
        let elsewhere: RoundFindings;
        let of_session = if session.round == found.round.round {
            &found
        } else {
            elsewhere = findings::findings(workspace, unlocked)?.round;
            &elsewhere
        };
        sessions.push(SessionToHear {
            words: analysis::words_to_hear(of_session, child.as_str(), session.session),
            unlocked: unlocked.clone(),
            session,
        });
    }
    Ok(sessions)
}

/// The sound of one of these words, as a FLAC file. `at`: the session and the word, counted from 0; `begins`: whether
/// a play begins.
///
/// # Errors
/// [`AppError::Refused`] if there is no such word; [`AppError::File`] if its sound cannot be read.
pub fn hear_of_child(
    workspace: &Workspace,
    child: &ChildCode,
    at: (usize, usize),
    by: &Person,
    begins: bool,
    now: Now,
) -> Result<Vec<u8>, AppError> {
    let sessions = words_of_child(workspace, child)?;
    let session = sessions.get(at.0);
    let (session, word) = session
        .and_then(|session| Some((session, session.words.get(at.1)?)))
        .ok_or_else(|| {
            AppError::refused(
                "there is no such word",
                "hear one of those that the page shows",
            )
        })?;
    hear::hear_word(workspace, &session.unlocked, &word.token, by, begins, now)
}
