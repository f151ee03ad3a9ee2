//! A round's later life: how far it has come, its close, its unlocking.

use std::collections::BTreeMap;

use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::log;
use super::looks;
use super::masked;
use super::results::moment;
use crate::store::ListenerProgressRow;
use crate::store::OpenLinkRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::ListenerKind;
use crate::study::RoundName;
use crate::study::RoundState;

/// A round that was closed or unlocked.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Moved {
    /// Its name.
    pub round: RoundName,
    /// Its state now.
    pub state: RoundState,
    /// Where the log stands now, short: to be deposited elsewhere.
    pub receipt: String,
}

/// Closes a round: no further judgement.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round or it is not open.
pub fn close(workspace: &Workspace, round: &RoundName, now: Now) -> Result<Moved, AppError> {
    move_on(workspace, round, RoundState::Closed, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`close`].
pub fn close_by(
    workspace: &Workspace,
    round: &RoundName,
    by: &Person,
    now: Now,
) -> Result<Moved, AppError> {
    move_on(workspace, round, RoundState::Closed, Some(by), now)
}

/// Unlocks a closed round: its results may be seen from now on.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round or it is not closed.
pub fn unlock(workspace: &Workspace, round: &RoundName, now: Now) -> Result<Moved, AppError> {
    move_on(workspace, round, RoundState::Unlocked, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`unlock`].
pub fn unlock_by(
    workspace: &Workspace,
    round: &RoundName,
    by: &Person,
    now: Now,
) -> Result<Moved, AppError> {
    move_on(workspace, round, RoundState::Unlocked, Some(by), now)
}

fn move_on(
    workspace: &Workspace,
    name: &RoundName,
    to: RoundState,
    by: Option<&Person>,
    now: Now,
) -> Result<Moved, AppError> {
    let from = match to {
        RoundState::Unlocked => RoundState::Closed,
        _ => RoundState::Open,
    };
    let (name, by) = (name.clone(), by.map(|by| by.code.clone()));
    workspace.store().write(move |writing| {
        let round = named(writing, &name)?;
        if round.state != from {
            return Err(AppError::refused(
                format!("round {name} is {}", round.state),
                format!("only a round that is {from} can be {to}"),
            ));
        }
        let left_open = masked::left_open(writing, &round)?;
        writing.move_round(round.id, to, now.ms())?;
        // The seed is revealed at the close: from then on any sitting can be rebuilt.
        let body = match to {
            RoundState::Closed => {
                json!({"round": name, "seed": data_encoding::HEXLOWER.encode(&round.seed)})
            }
            _ => match left_open {
                None => json!({"round": name}),
                Some(left) => json!({"round": name, "masked_analysis": left}),
            },
        };
        let body = log::by(body, by.as_deref());
        let mut head = log::append(writing, now, &format!("round {to}"), &body)?;
        if to == RoundState::Unlocked
            && let Some(unplanned) = looks::unplanned(writing, &name)?
        {
            head = log::append(writing, now, looks::UNPLANNED, &unplanned)?;
        }
        Ok(Moved {
            round: name,
            state: to,
            receipt: head.receipt().to_string(),
        })
    })
}

/// The round of that name.
pub(super) fn named(reading: &Reading<'_>, name: &RoundName) -> Result<RoundRow, AppError> {
    let known = reading.round_named(name)?;
    if let Some(round) = known {
        return Ok(round);
    }
    let names: Vec<_> = reading
        .rounds()?
        .iter()
        .map(|round| round.name.to_string())
        .collect();
    let mend = if names.is_empty() {
        "seal a plan first".to_owned()
    } else {
        format!("the study has {}", names.join(", "))
    };
    Err(AppError::refused(format!("there is no round {name}"), mend))
}

/// How far a round has come: nothing in it tells an outcome.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Progress {
    /// Its name.
    pub round: RoundName,
    /// Its state.
    pub state: RoundState,
    /// Its seal.
    pub seal: String,
    /// Whether a program answers for the listeners.
    pub simulated: bool,
    /// Whom the plan asks: naive listeners or experts. The counts are of these.
    pub kind: ListenerKind,
    /// Judgements wanted of each token.
    pub wanted: u32,
    /// Scored tokens.
    pub tokens: usize,
    /// Judgements of scored tokens so far, repeats and checks left out.
    pub judgements: usize,
    /// For each stratum, as a bare number: its least and its most judged token.
    pub strata: BTreeMap<u32, (u32, u32)>,
    /// Listeners by how far they came; who withdrew is not among them.
    pub listeners: Vec<ListenerProgress>,
    /// Whether it is paused.
    pub paused: bool,
    /// Listeners who withdrew.
    pub withdrew: usize,
    /// Its open links.
    pub open_links: Vec<OpenLinkProgress>,
}

/// How many listeners came by an open link.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct OpenLinkProgress {
    /// Its number.
    pub number: u32,
    /// Listeners who came by it.
    pub enrolled: u32,
    /// How many may.
    pub cap: u32,
    /// Until when it lets anybody in.
    pub expires: Option<String>,
    /// Whether it was taken back.
    pub revoked: bool,
}

/// What has become of a listener's link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LinkState {
    /// It was never opened.
    Invited,
    /// It was opened, and nothing was heard yet.
    Opened,
    /// Its listener judges.
    UnderWay,
    /// She finished.
    Finished,
    /// A sealed rule let her go.
    LetGo,
    /// It was taken back.
    Revoked,
}

impl Progress {
    /// Whether a program answers for the listeners.
    pub const fn is_simulated(&self) -> bool {
        self.simulated
    }
}

/// How far one listener came.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct ListenerProgress {
    /// The number of her link.
    pub number: u32,
    /// Her code.
    pub listener: String,
    /// Presentations that she judged or set aside.
    pub done: usize,
    /// Presentations of her sittings.
    pub of: usize,
    /// Whether she finished.
    pub finished: bool,
    /// What has become of her link.
    pub link: LinkState,
    /// Whether she came by an open link.
    pub by_open_link: bool,
    /// Until when her link lets her in for the first time, RFC 3339 in UTC.
    pub expires: Option<String>,
}

/// How far every round of the study has come, oldest first.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn progress(workspace: &Workspace) -> Result<Vec<Progress>, AppError> {
    workspace.store().read(|reading| {
        reading
            .rounds()?
            .into_iter()
            .map(|round| progress_of(reading, &round))
            .collect()
    })
}

pub(super) fn progress_of(reading: &Reading<'_>, round: &RoundRow) -> Result<Progress, AppError> {
    let plan: crate::study::Plan = serde_json::from_str(&round.plan)
        .map_err(|error| AppError::Unreadable(error.to_string()))?;
    let counts = reading.judged_counts(round.id, plan.listeners.kind)?;
    let mut strata: BTreeMap<u32, (u32, u32)> = BTreeMap::new();
    for (stratum, judged) in &counts {
        let (least, most) = strata.entry(*stratum).or_insert((*judged, *judged));
        *least = (*least).min(*judged);
        *most = (*most).max(*judged);
    }
    let listeners = reading
        .listener_progress(round.id)?
        .iter()
        .map(listener_progress)
        .collect::<Result<_, AppError>>()?;
    let open_links = reading
        .open_links(round.id)?
        .iter()
        .map(open_link_progress)
        .collect::<Result<_, AppError>>()?;
    let withdrew = reading
        .enrolments(round.id)?
        .iter()
        .filter(|enrolment| enrolment.withdrawn_ms.is_some())
        .count();
    Ok(Progress {
        round: round.name.clone(),
        state: round.state,
        seal: round.seal.clone(),
        simulated: plan.listeners.simulated,
        kind: plan.listeners.kind,
        wanted: plan.listeners.judgements_per_token,
        tokens: counts.len(),
        judgements: counts.iter().map(|(_, judged)| *judged as usize).sum(),
        strata,
        listeners,
        paused: round.paused,
        withdrew,
        open_links,
    })
}

fn listener_progress(row: &ListenerProgressRow) -> Result<ListenerProgress, AppError> {
    Ok(ListenerProgress {
        number: row.number,
        link: link_state(row),
        listener: row.code.to_string(),
        done: row.done as usize,
        of: row.of as usize,
        finished: row.finished,
        by_open_link: row.by_open_link,
        expires: row.expires_ms.map(|ms| moment(Some(ms))).transpose()?,
    })
}

const fn link_state(row: &ListenerProgressRow) -> LinkState {
    if row.revoked_ms.is_some() {
        LinkState::Revoked
    } else if row.let_go_ms.is_some() {
        LinkState::LetGo
    } else if row.finished {
        LinkState::Finished
    } else if row.done > 0 {
        LinkState::UnderWay
    } else if row.opened_ms.is_some() {
        LinkState::Opened
    } else {
        LinkState::Invited
    }
}

fn open_link_progress(row: &OpenLinkRow) -> Result<OpenLinkProgress, AppError> {
    Ok(OpenLinkProgress {
        number: row.number,
        enrolled: row.enrolled,
        cap: row.cap,
        expires: row.expires_ms.map(|ms| moment(Some(ms))).transpose()?,
        revoked: row.revoked_ms.is_some(),
    })
}
