//! Whether the study is as it was written: the chain, the seals, the rows and the audio.
//!
//! The log is followed first; what it tells is then held against the rows, one table at a time.
//! Each difference is a sentence. None of them names a child.

mod accounts;
mod assignments;
mod audio;
// What was erased.
pub(super) mod gone;
mod links;
mod listeners;
mod masked;
mod noted;
mod places;
mod rounds;
mod story;

use std::collections::HashSet;
use std::str::FromStr;

use super::AppError;
use super::Workspace;
use crate::seal;
use crate::seal::Chain;
use crate::seal::Head;
use crate::seal::ReceiptHead;
use crate::store::Reading;
use crate::store::StoreError;

use gone::Gone;
use story::Story;

/// What was looked at, and all that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Verified {
    /// Events in the log.
    pub events: u64,
    /// The digest of the last one.
    pub head: String,
    /// The head in short, as receipts carry it.
    pub receipt: String,
    /// Sealed rounds.
    pub rounds: usize,
    /// Judgements, all revisions.
    pub judgements: usize,
    /// Audio files.
    pub audio_files: usize,
    /// A sentence for each thing that is not as it was written.
    pub findings: Vec<String>,
}

/// Holds the whole study against its log, its seals and its audio. `receipts`: receipts of
/// listeners, or of the seal sheet, that the log must go on from.
///
/// # Errors
/// [`AppError::Refused`] for a text that is no receipt; [`AppError::Store`] if the store cannot be
/// looked at. A study that is not as it was written is no error: it has findings.
pub fn verify(workspace: &Workspace, receipts: &[String]) -> Result<Verified, AppError> {
    let receipts = receipts
        .iter()
        .map(|text| {
            ReceiptHead::from_str(text).map_err(|error| {
                AppError::refused(format!("`{text}` is no receipt"), error.to_string())
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    let mut findings = Findings::default();
    let mut verified = workspace
        .store()
        .read(|reading| rows(reading, &receipts, &mut findings))?;
    verified.audio_files = audio::check(workspace, &mut findings)?;
    verified.findings = findings.said;
    Ok(verified)
}

fn rows(
    reading: &Reading<'_>,
    receipts: &[ReceiptHead],
    findings: &mut Findings,
) -> Result<Verified, AppError> {
    for said in reading.integrity()? {
        findings.say(format!("the store is damaged: {said}"));
    }
    let log = findings.read(reading.log_as_stored());
    let chain = match seal::verify_chain(log.iter().cloned()) {
        Ok(chain) => Some(chain),
        Err(broken) => {
            findings.say(broken.to_string());
            None
        }
    };
    for receipt in receipts {
        if let Some(Err(broken)) = chain.as_ref().map(|chain| chain.holds(receipt)) {
            findings.say(broken.to_string());
        }
    }
    let story = Story::told(&log, findings);
    let gone = Gone::read(reading, &story, findings);
    check_study(reading, &story, &gone, findings);
    assignments::check(reading, &story, &gone, findings);
    let rounds = rounds::check(reading, &story, &gone, findings);
    listeners::check(reading, &story, &gone, chain.as_ref(), findings);
    links::check(reading, &story, &gone, findings);
    accounts::check(reading, &story.accounts, findings);
    let judgements = places::check(reading, &story, &gone, findings);
    noted::check(reading, &story, &gone, findings);
    masked::check(reading, &story, findings);
    let head = chain.as_ref().map_or(Head::EMPTY, Chain::head);
    Ok(Verified {
        events: log.len() as u64,
        head: head.digest.to_string(),
        receipt: head.receipt().to_string(),
        rounds,
        judgements,
        audio_files: 0,
        findings: Vec::new(),
    })
}

/// The study's own row, and how much was imported.
fn check_study(reading: &Reading<'_>, story: &Story, gone: &Gone, findings: &mut Findings) {
    let made = findings.read(reading.study_made_ms());
    if made != story.made_ms {
        findings.say("the time at which the study was made is not the one that the log tells");
    }
    let tokens = findings.read(reading.n_tokens());
    let missing = findings.read(reading.missing()).len() as u64;
    let (erased_tokens, erased_missing) = gone.counts();
    for (what, found, told, erased) in [
        ("tokens", tokens, story.tokens, erased_tokens),
        (
            "rows without a recording",
            missing,
            story.missing,
            erased_missing,
        ),
    ] {
        if found + erased != told {
            findings.say(format!(
                "the store holds {found} {what}, and the log tells of {told} that were imported"
            ));
        }
    }
}

/// What was found, each thing once and in the order in which it was found.
#[derive(Default)]
struct Findings {
    said: Vec<String>,
    seen: HashSet<String>,
}

impl Findings {
    fn say(&mut self, what: impl Into<String>) {
        let what = what.into();
        if self.seen.insert(what.clone()) {
            self.said.push(what);
        }
    }

    /// What was read, or nothing and a finding: a row that the program cannot have written must
    /// not keep the rest from being looked at.
    fn read<T: Default>(&mut self, outcome: Result<T, StoreError>) -> T {
        outcome.unwrap_or_else(|error| {
            self.say(error.to_string());
            T::default()
        })
    }
}
