//! The sealed rules while a listener judges: whoever can no longer meet one hears no more, and her
//! places go to others. Nothing here sees a child, a session or a phase.

use std::collections::BTreeMap;

use serde_json::json;

use super::ListeningError;
use super::draw;
use super::entry::Listening;
use crate::analysis;
use crate::analysis::HeardSoFar;
use crate::analysis::Remaining;
use crate::app::AppError;
use crate::app::Now;
use crate::app::log;
use crate::store::HeardRow;
use crate::store::PresentationRow;
use crate::store::SittingRow;
use crate::store::Writing;
use crate::study::PresentationKind;

/// Looks at a listener who has just judged a word, and lets her go if a sealed rule is out of her
/// reach: then it is true. The word itself is not looked at: she may still change what she said of it.
pub(super) fn look(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let enrolment = &listening.enrolment;
    let screening = &listening.plan.screening;
    let Some(after) = screening.live_after() else {
        return Ok(false);
    };
    if enrolment.let_go_ms.is_some() || !counts(place.kind) {
        return Ok(false);
    }
    let mut heard = writing.heard_by(enrolment.id)?;
    heard.retain(|row| row.presentation != place.id);
    let checks = heard
        .iter()
        .filter(|row| row.kind == PresentationKind::Check);
    if checks.count() < after as usize {
        return Ok(false);
    }
    let sittings = writing.sittings_of(enrolment.id)?;
    let Some(sitting) = sittings.last().filter(|last| last.ended_ms.is_none()) else {
        return Ok(false);
    };
    let rules = analysis::rules_of(screening).map_err(AppError::Refused)?;
    let remaining = remaining(writing, listening, place, sitting)?;
    match analysis::out_of_reach(&rules, &so_far(&heard), &remaining) {
        Some(why) => let_go(writing, listening, sitting, &why, now).map(|()| true),
        None => Ok(false),
    }
}

const fn counts(kind: PresentationKind) -> bool {
    matches!(
        kind,
        PresentationKind::Main | PresentationKind::Check | PresentationKind::Repeat
    )
}

/// What she judged, in bare numbers.
fn so_far(heard: &[HeardRow]) -> Vec<HeardSoFar> {
    let mut items = BTreeMap::new();
    heard
        .iter()
        .map(|row| {
            let next = u32::try_from(items.len()).unwrap_or(u32::MAX);
            HeardSoFar {
                item: *items.entry(row.token).or_insert(next),
                kind: row.kind,
                answer: row.answer,
                known: row.known,
                rt_ms: row.rt_ms,
            }
        })
        .collect()
}

/// What she may still judge, at most: the word in hand, the places that wait, and her sittings to
/// come.
fn remaining(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    sitting: &SittingRow,
) -> Result<Remaining, ListeningError> {
    let plan = &listening.plan;
    let to_come = plan.listeners.sittings.saturating_sub(sitting.number);
    let repeats = plan.repeats_among(plan.sitting.tokens as usize);
    let of = |kind, in_a_sitting: u32| -> Result<u32, ListeningError> {
        let waiting = writing.may_still_judge(listening.enrolment.id, kind)?;
        let in_hand = u32::from(place.kind == kind);
        Ok(waiting + in_hand + to_come.saturating_mul(in_a_sitting))
    };
    Ok(Remaining {
        main: of(PresentationKind::Main, plan.sitting.tokens)?,
        checks: of(PresentationKind::Check, plan.sitting.checks)?,
        repeats: of(
            PresentationKind::Repeat,
            u32::try_from(repeats).unwrap_or(u32::MAX),
        )?,
    })
}

fn let_go(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    why: &str,
    now: Now,
) -> Result<(), ListeningError> {
    let code = &listening.enrolment.code;
    let dropped = writing.let_go(listening.enrolment.id, why, now.ms())?;
    let body = json!({"listener": code, "why": why});
    log::append(writing, now, "let go", &body)?;
    draw::log_moved(writing, "places dropped", sitting.stream, &dropped, now)?;
    if writing.end_sitting(sitting.id, "screened", now.ms())? {
        let body = json!({"sitting": sitting.stream, "listener": code, "why": "screened"});
        log::append(writing, now, "sitting over", &body)?;
    }
    Ok(())
}
