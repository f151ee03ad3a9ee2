//! Looks at results: each round that is unlocked is one, counted over the study.

use serde_json::Value;
use serde_json::json;

use super::AppError;
use super::assigning::document;
use crate::store::AssignmentRow;
use crate::store::EventRow;
use crate::store::Reading;
use crate::study::RoundName;
use crate::study::record::Look;

/// The name of the event that closes a round.
pub(super) const CLOSED: &str = "round closed";

/// The name of the event that unlocks a round.
pub(super) const UNLOCKED: &str = "round unlocked";

/// The name of the event of a look that nobody planned.
pub(super) const UNPLANNED: &str = "look beyond plan";

/// Which look the unlocking of a round is. `events`: the log; `assignment`: what was drawn before.
pub(super) fn look(
    events: &[EventRow],
    round: &RoundName,
    assignment: Option<&AssignmentRow>,
) -> Result<Look, AppError> {
    let unlocked = events.iter().filter(|row| row.event.kind == UNLOCKED);
    let names = unlocked.filter_map(round_of);
    let before = names.take_while(|name| *name != round.as_str()).count();
    let planned = assignment
        .map(|row| document::plan_of(row, &[]).map(|plan| plan.looks))
        .transpose()?;
    Ok(Look {
        taken: u32::try_from(before + 1).unwrap_or(u32::MAX),
        planned,
    })
}

/// What is to be logged where a round that was just unlocked is a look beyond the plan.
pub(super) fn unplanned(
    reading: &Reading<'_>,
    round: &RoundName,
) -> Result<Option<Value>, AppError> {
    let assignment = reading.assignments()?.pop();
    let look = look(&reading.events()?, round, assignment.as_ref())?;
    Ok(look
        .planned
        .filter(|planned| look.taken > *planned)
        .map(|planned| json!({"round": round, "look": look.taken, "planned": planned})))
}

/// The round of which an event tells.
pub(super) fn round_of(row: &EventRow) -> Option<String> {
    let body: Value = serde_json::from_str(row.event.body.as_str()).ok()?;
    body.get("round")?.as_str().map(str::to_owned)
}
