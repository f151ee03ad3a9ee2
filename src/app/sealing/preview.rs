//! A plan held against the study without sealing it: what it would play, and what stands in its way.

use std::collections::BTreeMap;

use super::Draft;
use super::Entry;
use super::THE_PLAN;
use super::choice::Earlier;
use crate::analysis::PlannedSession;
use crate::analysis::PlannedWords;
use crate::analysis::Side;
use crate::app::AppError;
use crate::app::Workspace;
use crate::study::ChildCode;
use crate::study::Plan;
use crate::study::Use;
use crate::study::plan::Contrast;
use crate::study::plan::WordSet;

/// What a plan would play, and what stands in its way.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::app) struct Preview {
    /// What makes the plan impossible, a sentence each; empty for nothing.
    pub(in crate::app) problems: Vec<String>,
    /// What staff had better look at, a sentence each.
    pub(in crate::app) notices: Vec<String>,
    /// What it would play. Where sessions or words are drawn, the seal draws others.
    pub(in crate::app) words: PlannedWords,
}

/// Holds a plan against the study without sealing it. What is wrong with the plan by itself is not looked for here.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read; [`AppError::File`] or [`AppError::Input`] if its settings cannot.
pub(in crate::app) fn preview(workspace: &Workspace, plan: &Plan) -> Result<Preview, AppError> {
    let plan = plan.clone().settled();
    let name = plan.round.clone();
    let settings = workspace.settings()?;
    let (draft, earlier, taken) = workspace.store().read(|reading| {
        let (draft, earlier) = Draft::new(plan, settings, reading)?;
        Ok::<_, AppError>((draft, earlier, reading.round_named(&name)?.is_some()))
    })?;
    let taken = taken.then(|| super::sealed_before(&name).to_string());
    let found = draft.problems(THE_PLAN, &earlier);
    let told = found.iter().map(crate::study::Problem::sentence);
    Ok(Preview {
        problems: taken.into_iter().chain(told).collect(),
        notices: draft.notices(),
        words: draft.words(&earlier),
    })
}

impl Draft {
    fn words(&self, earlier: &Earlier) -> PlannedWords {
        let links = self.entries.iter().filter(|entry| entry.link).count();
        let mut heard_before = vec![0; earlier.rounds.len()];
        for entry in self.entries.iter().filter(|entry| entry.stratum.is_some()) {
            let first = earlier.first_heard(entry.id);
            if let Some(count) = first.and_then(|round| heard_before.get_mut(round)) {
                *count += 1;
            }
        }
        PlannedWords {
            sessions: self.sessions(),
            links: u32::try_from(links).unwrap_or(u32::MAX),
            heard_before,
        }
    }

    /// The sessions, by child and number.
    fn sessions(&self) -> Vec<PlannedSession> {
        let number: BTreeMap<&ChildCode, u32> = self.children.iter().zip(0..).collect();
        let mut sessions: BTreeMap<(u32, u32), PlannedSession> = BTreeMap::new();
        let own = self
            .entries
            .iter()
            .filter(|entry| !entry.link && entry.stratum.is_some());
        for entry in own {
            let key = &entry.token.key;
            let child = key.child.as_ref().and_then(|child| number.get(child));
            let (Some(child), Some(session)) = (child.copied(), key.session) else {
                continue;
            };
            let planned = sessions.entry((child, session)).or_insert(PlannedSession {
                child,
                number: session,
                side: self.side(entry),
                peer: key.use_ == Use::Peer,
                words: 0,
                compared: 0,
            });
            planned.words += 1;
            planned.compared += u32::from(is_compared(&self.plan.contrast, key.treated));
        }
        let mut sessions: Vec<_> = sessions.into_values().collect();
        leave_out_earlier(&self.plan.contrast, &mut sessions);
        sessions
    }

    fn side(&self, entry: &Entry) -> Side {
        let contrast = &self.plan.contrast;
        match &entry.token.key.phase {
            Some(phase) if *phase == contrast.from => Side::Before,
            Some(phase) if *phase == contrast.to => Side::After,
            _ => Side::Beside,
        }
    }
}

fn is_compared(contrast: &Contrast, treated: Option<bool>) -> bool {
    match contrast.words {
        WordSet::All => true,
        WordSet::Treated => treated == Some(true),
        WordSet::Untreated => treated == Some(false),
    }
}

/// Of the later phase only its last sessions count, where the contrast says so. `sessions`: by child and number.
fn leave_out_earlier(contrast: &Contrast, sessions: &mut [PlannedSession]) {
    let Some(last) = contrast.last else { return };
    let mut seen: BTreeMap<u32, u32> = BTreeMap::new();
    for session in sessions.iter_mut().rev() {
        if session.side == Side::After {
            let seen = seen.entry(session.child).or_default();
            *seen += 1;
            if *seen > last {
                session.side = Side::Beside;
            }
        }
    }
}
