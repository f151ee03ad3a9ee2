//! Why something was done otherwise than planned: written beside it, at any time, and never changed.

use serde_json::json;

use super::AppError;
use super::Deviation;
use super::Now;
use super::Person;
use super::Workspace;
use super::child_names::ChildNames;
use super::deviations;
use super::log;
use super::looks;
use super::looks::CLOSED;
use super::round;
use crate::store::EventRow;
use crate::store::Reading;
use crate::study::RoundName;

/// The event of a reason.
pub(super) const EXPLAINED: &str = "reason given";

/// The longest reason, in letters (ours): a sentence or two.
const LONGEST: usize = 300;

/// What was done otherwise than planned in a round so far. Nothing in it tells an outcome.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round; [`AppError::Store`] if the study cannot be read.
pub fn otherwise_than_planned(
    workspace: &Workspace,
    name: &RoundName,
) -> Result<Vec<Deviation>, AppError> {
    workspace.store().read(|reading| told(reading, name))
}

/// Writes down why something was done otherwise than planned. `event`: the number of its event in the log.
///
/// # Errors
/// [`AppError::Refused`] if the round has no such deviation, or the reason is empty, too long, or names a child.
pub fn explain_deviation(
    workspace: &Workspace,
    name: &RoundName,
    event: u64,
    reason: &str,
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    let (name, by) = (name.clone(), by.map(|person| person.code.clone()));
    let reason = reason.split_whitespace().collect::<Vec<_>>().join(" ");
    workspace.store().write(move |writing| {
        let known = told(writing, &name)?;
        if !known.iter().any(|deviation| deviation.event == event) {
            let known: Vec<String> = known.iter().map(|one| one.event.to_string()).collect();
            return Err(AppError::refused(
                format!(
                    "event {event} is nothing that was done otherwise than planned in round {name}"
                ),
                format!("the round has these: {}", known.join(", ")),
            ));
        }
        check(writing, &reason)?;
        let body = json!({"round": name, "event": event, "reason": reason});
        log::append(writing, now, EXPLAINED, &log::by(body, by.as_deref()))?;
        Ok(())
    })
}

fn told(reading: &Reading<'_>, name: &RoundName) -> Result<Vec<Deviation>, AppError> {
    let round = round::named(reading, name)?;
    let events = reading.events()?;
    let closes = |row: &&EventRow| {
        row.event.kind == CLOSED && looks::round_of(row).as_deref() == Some(name.as_str())
    };
    let until = events.iter().find(closes);
    let until = until.map_or(u64::MAX, |row| row.event.seq);
    deviations::of(&events, &round, until)
}

/// Whether a reason may stand in the log for ever: short, and naming no child.
fn check(reading: &Reading<'_>, reason: &str) -> Result<(), AppError> {
    if reason.is_empty() {
        return Err(AppError::refused(
            "the reason is empty",
            "say in a sentence why it was done",
        ));
    }
    if reason.chars().count() > LONGEST {
        return Err(AppError::refused(
            format!("the reason has more than {LONGEST} letters"),
            "say it in a sentence or two",
        ));
    }
    if ChildNames::read(reading, 1)?.are_in(reason) {
        return Err(AppError::refused(
            "the reason names a child, and the log keeps it for ever",
            "say it without naming anybody",
        ));
    }
    Ok(())
}
