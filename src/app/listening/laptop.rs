//! One laptop that is handed round: each listener starts by a short code, and leaves nothing behind.

use std::collections::BTreeSet;

use super::ListeningError;
use super::entry::Opened;
use super::entry::let_in;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::links;
use crate::app::secret;
use crate::seal::Digest;
use crate::store::Enrolment;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::ListenerCode;
use crate::study::RoundName;
use crate::study::RoundState;

/// What codes are made of: no two of these look alike, or sound alike in English or in Spanish.
const SIGNS: [char; 16] = [
    '2', '3', '4', '5', '6', '7', '8', '9', 'A', 'F', 'H', 'K', 'M', 'R', 'W', 'X',
];

/// Signs of a code: 24 bits, enough where a few wrong tries make everybody wait.
const LENGTH: usize = 6;

/// A listener's short code. It is valid only where the program serves one laptop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaptopCode {
    /// The round.
    pub round: RoundName,
    /// The number of her link.
    pub number: u32,
    /// Her code as a listener.
    pub listener: ListenerCode,
    /// What she types, in two groups.
    pub code: String,
}

/// The short codes of all listeners of open rounds. They follow from the rounds' secret seeds: they
/// are kept nowhere, and are the same whenever the program starts.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn codes(workspace: &Workspace) -> Result<Vec<LaptopCode>, AppError> {
    workspace.store().read(|reading| {
        let coded = coded(reading)?;
        Ok(coded
            .into_iter()
            .map(|(round, enrolment, code)| {
                let (first, second) = code.split_at(LENGTH / 2);
                LaptopCode {
                    round: round.name,
                    number: enrolment.number,
                    listener: enrolment.code,
                    code: format!("{first}-{second}"),
                }
            })
            .collect())
    })
}

/// Starts a listener by her short code: the browser gets a cookie of its own. Case, spaces and
/// dashes do not matter.
///
/// # Errors
/// [`ListeningError::UnknownCode`]; a link that was taken back or has run out.
pub fn start_by_code(
    workspace: &Workspace,
    code: &str,
    now: Now,
) -> Result<Opened, ListeningError> {
    let typed: String = code
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|sign| sign.to_ascii_uppercase())
        .collect();
    let cookie = secret::token();
    let kept = secret::digest_of(&cookie);
    workspace.store().write(move |writing| {
        let found = coded(writing)?
            .into_iter()
            .find(|(_, _, code)| *code == typed);
        let (_, enrolment, _) = found.ok_or(ListeningError::UnknownCode)?;
        let_in(writing, &enrolment, &kept, now)
    })?;
    Ok(Opened { cookie })
}

/// Whether a browser's listener is here: she has not handed the laptop over.
///
/// # Errors
/// [`ListeningError::App`] if the study cannot be read.
pub fn is_here(workspace: &Workspace, cookie: &str) -> Result<bool, ListeningError> {
    workspace.store().read(|reading| {
        let known = reading.enrolment_by_cookie(&secret::digest_of(cookie))?;
        Ok(known.is_some())
    })
}

/// What stands for a browser's listener in the page's storage, and the language of her pages.
///
/// # Errors
/// [`ListeningError::UnknownBrowser`].
pub fn tag(workspace: &Workspace, cookie: &str) -> Result<(String, String), ListeningError> {
    workspace.store().read(|reading| {
        let enrolment = reading
            .enrolment_by_cookie(&secret::digest_of(cookie))?
            .ok_or(ListeningError::UnknownBrowser)?;
        let round = reading
            .round(enrolment.round)?
            .ok_or(ListeningError::UnknownBrowser)?;
        let language = super::course::sealed_settings(&round)?.language;
        Ok((links::tag_of(&enrolment.link_sha256), language))
    })
}

/// Forgets a browser: whoever has the laptop next is nobody until she gives a code.
///
/// # Errors
/// [`ListeningError::App`] if the study cannot be written.
pub fn hand_over(workspace: &Workspace, cookie: &str) -> Result<(), ListeningError> {
    let kept = secret::digest_of(cookie);
    workspace
        .store()
        .write(move |writing| Ok(writing.end_visit(&kept)?))
}

/// Every listener of an open round with her code; where two would be the same, the later is
/// another.
fn coded(reading: &Reading<'_>) -> Result<Vec<(RoundRow, Enrolment, String)>, AppError> {
    let mut taken = BTreeSet::new();
    let mut found = Vec::new();
    for round in reading.rounds()? {
        if round.state != RoundState::Open {
            continue;
        }
        for enrolment in reading.enrolments(round.id)? {
            let code = (0..u32::MAX)
                .map(|attempt| code_of(&round.seed, enrolment.number, attempt))
                .find(|code| !taken.contains(code))
                .unwrap_or_default();
            taken.insert(code.clone());
            found.push((round.clone(), enrolment, code));
        }
    }
    Ok(found)
}

fn code_of(seed: &[u8; 32], number: u32, attempt: u32) -> String {
    let mut bytes = b"fairhearing code 1\n".to_vec();
    bytes.extend_from_slice(seed);
    bytes.extend_from_slice(&number.to_be_bytes());
    bytes.extend_from_slice(&attempt.to_be_bytes());
    let digest = Digest::of(&bytes);
    digest
        .as_bytes()
        .iter()
        .filter_map(|byte| SIGNS.get(usize::from(byte % 16)))
        .take(LENGTH)
        .collect()
}
