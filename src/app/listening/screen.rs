//! The sealed rules while a listener judges: whoever can no longer meet one hears no more, and her
//! places go to others. Nothing here sees a child, a session or a phase.

use std::collections::BTreeMap;

use serde_json::json;

use super::ListeningError;
use super::draw;
use super::entry::Listening;
use super::extras::may_be_heard;
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
use crate::study::Use;

/// Why a sitting ended whose listener was let go.
pub(super) const SCREENED: &str = "screened";

/// Looks at a listener who has just judged a word, and lets her go if a sealed rule is out of her
/// reach: then it is true. The word itself is not looked at: she may still change what she said of it.
pub(super) fn look(
    writing: &Writing<'_>,
    listening: &Listening,
    place: &PresentationRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let enrolment = &listening.enrolment;
    let Some(after) = listening.plan.screening.live_after() else {
        return Ok(false);
    };
    if enrolment.let_go_ms.is_some() || !counts(place.kind) {
        return Ok(false);
    }
    let mut heard = writing.heard_by(enrolment.id)?;
    heard.retain(|row| row.presentation != place.id);
    if !has_heard_checks(&heard, after) {
        return Ok(false);
    }
    let sittings = writing.sittings_of(enrolment.id)?;
    let Some(sitting) = sittings.last().filter(|last| last.ended_ms.is_none()) else {
        return Ok(false);
    };
    let to_come = sittings_after(listening, sitting.number);
    let remaining = remaining(writing, listening, Some(place), to_come)?;
    apply(writing, listening, sitting, (&heard, &remaining), now)
}

/// Looks at a listener before a later sitting is drawn: her last word can no longer be changed.
pub(super) fn look_between(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let Some(after) = listening.plan.screening.live_after() else {
        return Ok(false);
    };
    let heard = writing.heard_by(listening.enrolment.id)?;
    if listening.enrolment.let_go_ms.is_some() || !has_heard_checks(&heard, after) {
        return Ok(false);
    }
    let to_come = sittings_after(listening, sitting.number.saturating_sub(1));
    let remaining = remaining(writing, listening, None, to_come)?;
    apply(writing, listening, sitting, (&heard, &remaining), now)
}

/// Looks at a listener who has finished: nothing more of hers comes. If a sealed rule is not met, what
/// she judged is offered to others.
pub(super) fn look_at_the_end(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let acts = listening.plan.screening.live_after().is_some();
    if acts && listening.enrolment.let_go_ms.is_none() {
        let heard = writing.heard_by(listening.enrolment.id)?;
        let nothing = Remaining::default();
        apply(writing, listening, sitting, (&heard, &nothing), now)?;
    }
    Ok(())
}

fn has_heard_checks(heard: &[HeardRow], after: u32) -> bool {
    let checks = heard
        .iter()
        .filter(|row| row.kind == PresentationKind::Check);
    checks.count() >= after as usize
}

/// Lets her go if a sealed rule is out of her reach: by what she `heard`, and what may still come.
fn apply(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    (heard, remaining): (&[HeardRow], &Remaining),
    now: Now,
) -> Result<bool, ListeningError> {
    let rules = analysis::rules_of(&listening.plan.screening).map_err(AppError::Refused)?;
    match analysis::out_of_reach(&rules, &so_far(heard), remaining) {
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

/// What she may still judge, at most: the word in hand, the places that wait, and so many sittings
/// to come.
fn remaining(
    writing: &Writing<'_>,
    listening: &Listening,
    place: Option<&PresentationRow>,
    to_come: u32,
) -> Result<Remaining, ListeningError> {
    let later = in_sittings(writing, listening, to_come)?;
    let of = |kind| -> Result<u32, ListeningError> {
        let waiting = writing.may_still_judge(listening.enrolment.id, kind)?;
        Ok(waiting + u32::from(place.is_some_and(|place| place.kind == kind)))
    };
    Ok(Remaining {
        main: of(PresentationKind::Main)? + later.main,
        checks: of(PresentationKind::Check)? + later.checks,
        repeats: of(PresentationKind::Repeat)? + later.repeats,
    })
}

/// Sittings that the plan lets her do after that one.
const fn sittings_after(listening: &Listening, number: u32) -> u32 {
    listening.plan.listeners.sittings.saturating_sub(number)
}

/// What she judges at most in so many sittings that are not drawn yet. A check is dealt to her once.
fn in_sittings(
    writing: &Writing<'_>,
    listening: &Listening,
    sittings: u32,
) -> Result<Remaining, ListeningError> {
    if sittings == 0 {
        return Ok(Remaining::default());
    }
    let sitting = &listening.plan.sitting;
    let repeats = listening.plan.repeats_among(sitting.tokens as usize);
    let heard = draw::heard(writing, listening)?;
    let barred = writing.bars(listening.enrolment.listener)?;
    let tokens = writing.round_tokens(listening.round.id)?;
    let checks = tokens.iter().filter(|token| {
        token.use_ == Use::Check && may_be_heard(token, &barred) && !heard.contains(&token.id)
    });
    let checks = u32::try_from(checks.count()).unwrap_or(u32::MAX);
    let repeats = u32::try_from(repeats).unwrap_or(u32::MAX);
    Ok(Remaining {
        main: sittings.saturating_mul(sitting.tokens),
        checks: sittings.saturating_mul(sitting.checks).min(checks),
        repeats: sittings.saturating_mul(repeats),
    })
}

/// Lets a listener go: her waiting words go to others, and her sitting is over.
pub(super) fn let_go(
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
    if writing.end_sitting(sitting.id, SCREENED, now.ms())? {
        let body = json!({"sitting": sitting.stream, "listener": code, "why": SCREENED});
        log::append(writing, now, "sitting over", &body)?;
    }
    Ok(())
}
