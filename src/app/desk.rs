//! What staff may see of a study before any result: what was recorded, and how its listeners listen.

use std::collections::BTreeMap;

use super::AppError;
use super::Workspace;
use super::round;
use super::secret;
use crate::audio::quality;
use crate::store::ChildId;
use crate::store::Reading;
use crate::store::ResultRow;
use crate::store::RoundRow;
use crate::store::RoundTokenRow;
use crate::store::SessionRow;
use crate::study::Judgement;
use crate::study::KnownAnswer;
use crate::study::PresentationKind;
use crate::study::RoundName;
use crate::study::StudySettings;
use crate::study::Use;

/// A secret for an address that only one may know.
pub fn one_time_secret() -> String {
    secret::token()
}

/// What is kept of a secret, to know it again.
pub fn digest_of(secret: &str) -> String {
    secret::digest_of(secret)
}

/// A study as it was recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Its settings.
    pub settings: StudySettings,
    /// Its children and peers, by code.
    pub children: Vec<RecordedChild>,
    /// Tokens by use, in the order of the terms.
    pub uses: Vec<(Use, usize)>,
    /// Words without a recording, by phase and reason.
    pub missing: Vec<(String, String, usize)>,
    /// Kinds of remarks on the quality of recordings, with their tokens.
    pub marks: Vec<(String, usize)>,
}

/// A child as she was recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordedChild {
    /// Her code.
    pub code: String,
    /// Her way of treating.
    pub cohort: Option<String>,
    /// Whether she is a peer.
    pub peer: bool,
    /// Her sessions: number, phase, tokens.
    pub sessions: Vec<(u32, String, usize)>,
}

/// What was recorded for a study.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] if its settings cannot.
pub fn recorded(workspace: &Workspace) -> Result<Recorded, AppError> {
    let settings = workspace.settings()?;
    workspace.store().read(|reading| {
        let tokens = reading.tokens()?;
        let mut uses: BTreeMap<Use, usize> = BTreeMap::new();
        let mut marks: BTreeMap<String, usize> = BTreeMap::new();
        let mut spoken: BTreeMap<(String, u32), usize> = BTreeMap::new();
        for token in &tokens {
            *uses.entry(token.key.use_).or_default() += 1;
            for mark in &token.prepared.marks {
                let kind = quality::kind_of(mark).unwrap_or(mark);
                *marks.entry(kind.to_owned()).or_default() += 1;
            }
            if let (Some(child), Some(session)) = (&token.key.child, token.key.session) {
                *spoken.entry((child.to_string(), session)).or_default() += 1;
            }
        }
        let sessions = reading.sessions()?;
        let children = reading
            .children()?
            .into_iter()
            .map(|child| RecordedChild {
                sessions: sessions_of(child.id, child.code.as_str(), &sessions, &spoken),
                code: child.code.to_string(),
                cohort: child.cohort.map(|cohort| cohort.to_string()),
                peer: child.peer,
            })
            .collect();
        Ok(Recorded {
            missing: missing(reading, &sessions)?,
            settings,
            children,
            uses: uses.into_iter().collect(),
            marks: marks.into_iter().collect(),
        })
    })
}

fn sessions_of(
    child: ChildId,
    code: &str,
    sessions: &[SessionRow],
    spoken: &BTreeMap<(String, u32), usize>,
) -> Vec<(u32, String, usize)> {
    let mut own: Vec<_> = sessions
        .iter()
        .filter(|session| session.child == child)
        .map(|session| {
            let tokens = spoken.get(&(code.to_owned(), session.ordinal));
            (
                session.ordinal,
                session.phase.to_string(),
                tokens.copied().unwrap_or(0),
            )
        })
        .collect();
    own.sort_unstable();
    own
}

fn missing(
    reading: &Reading<'_>,
    sessions: &[SessionRow],
) -> Result<Vec<(String, String, usize)>, AppError> {
    let mut counts: BTreeMap<(String, String), usize> = BTreeMap::new();
    for row in reading.missing()? {
        let phase = sessions
            .iter()
            .find(|session| session.id == row.session)
            .map(|session| session.phase.to_string())
            .unwrap_or_default();
        *counts.entry((phase, row.reason)).or_default() += 1;
    }
    Ok(counts
        .into_iter()
        .map(|((phase, reason), n)| (phase, reason, n))
        .collect())
}

/// How one listener listens. Nothing in it tells what she heard of any child.
#[derive(Debug, Clone, PartialEq)]
pub struct ListeningQuality {
    /// Her code.
    pub listener: String,
    /// Check words judged as known, of those that she heard.
    pub checks: (usize, usize),
    /// Words that she judged alike when she heard them again, of those.
    pub repeats: (usize, usize),
    /// The middle time from the end of the sound to the press, in milliseconds.
    pub median_rt_ms: Option<u32>,
    /// Presentations that she could not judge.
    pub set_aside: usize,
}

/// How the listeners of a round listen, by code.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round; [`AppError::Store`] if the study cannot be read.
pub fn quality(workspace: &Workspace, name: &RoundName) -> Result<Vec<ListeningQuality>, AppError> {
    workspace
        .store()
        .read(|reading| quality_in(reading, &round::named(reading, name)?))
}

pub(super) fn quality_in(
    reading: &Reading<'_>,
    round: &RoundRow,
) -> Result<Vec<ListeningQuality>, AppError> {
    let tokens = reading.round_tokens(round.id)?;
    let mut by_listener: BTreeMap<String, Vec<ResultRow>> = BTreeMap::new();
    for row in reading.results(round.id)? {
        by_listener
            .entry(row.listener.to_string())
            .or_default()
            .push(row);
    }
    Ok(by_listener
        .into_iter()
        .map(|(listener, rows)| quality_of(listener, &rows, &tokens))
        .collect())
}

fn quality_of(listener: String, rows: &[ResultRow], tokens: &[RoundTokenRow]) -> ListeningQuality {
    let known = |row: &ResultRow| -> Option<KnownAnswer> {
        tokens.iter().find(|token| token.id == row.token)?.answer
    };
    let of_kind = |kind| rows.iter().filter(move |row| row.kind == kind);
    let mut checks = (0, 0);
    for row in of_kind(PresentationKind::Check) {
        if let (Some(said), Some(answer)) = (row.answer, known(row))
            && let Some(met) = answer.is_met_by(said)
        {
            checks.0 += usize::from(met);
            checks.1 += 1;
        }
    }
    let first = |row: &ResultRow| -> Option<Judgement> {
        of_kind(PresentationKind::Main)
            .find(|main| main.token == row.token)?
            .answer
    };
    let mut repeats = (0, 0);
    for row in of_kind(PresentationKind::Repeat) {
        if let (Some(again), Some(first)) = (row.answer, first(row)) {
            repeats.0 += usize::from(again == first);
            repeats.1 += 1;
        }
    }
    let mut times: Vec<u32> = of_kind(PresentationKind::Main)
        .filter_map(|row| row.rt_ms)
        .collect();
    times.sort_unstable();
    ListeningQuality {
        listener,
        checks,
        repeats,
        median_rt_ms: times.get(times.len() / 2).copied(),
        set_aside: rows
            .iter()
            .filter(|row| row.aside.is_some() || row.given_up)
            .count(),
    }
}
