//! What the log tells that no plan foresaw.

use std::collections::BTreeMap;

use serde_json::Value;

use super::AppError;
use super::Now;
use super::explain::EXPLAINED;
use super::looks;
use super::masked;
use super::withdraw::CHILD_ERASED;
use super::withdraw::CHILD_STOPPED;
use super::withdraw::LISTENER_ERASED;
use crate::store::EventRow;
use crate::store::RoundRow;
use crate::study::record::DeviationRecord;

/// What comes whenever it comes, after the close too: looks at the results, masked analyses that no plan foresaw or that
/// unlocking cut short, and withdrawals, since nothing of whoever left stands in any result.
const WHENEVER: [&str; 6] = [
    looks::UNPLANNED,
    looks::UNLOCKED,
    masked::BEGUN,
    CHILD_STOPPED,
    CHILD_ERASED,
    LISTENER_ERASED,
];

/// What was done otherwise than planned.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Deviation {
    /// The number of its event in the log.
    pub event: u64,
    /// What was done, after its time.
    pub said: String,
    /// Why, where somebody wrote it; of several the last.
    pub reason: Option<Reason>,
}

/// Why something was done otherwise than planned.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Reason {
    /// In somebody's words.
    pub said: String,
    /// When that was written.
    pub given: String,
}

impl std::fmt::Display for Deviation {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.record().fmt(out)
    }
}

impl Deviation {
    /// As the round's record holds it.
    pub(super) fn record(&self) -> DeviationRecord {
        let reason = self.reason.as_ref();
        DeviationRecord {
            said: self.said.clone(),
            reason: reason
                .map(|reason| format!("the reason, given {}: {}", reason.given, reason.said)),
        }
    }
}

/// What was done otherwise than planned in a round, each with its time and its reason: after its seal and up to an event of
/// the log, and looks at the results and withdrawals whenever they were.
pub(super) fn of(
    events: &[EventRow],
    round: &RoundRow,
    until: u64,
) -> Result<Vec<Deviation>, AppError> {
    let mut found = Vec::new();
    let mut reasons = reasons(events)?;
    let sealed = sealed_at(events, round);
    let told = |row: &&EventRow| {
        let (seq, kind) = (row.event.seq, row.event.kind.as_str());
        seq > sealed && (seq <= until || WHENEVER.contains(&kind))
    };
    for row in events.iter().filter(told) {
        let body: Value = serde_json::from_str(row.event.body.as_str())
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        let of_another = body
            .get("round")
            .is_some_and(|name| name != round.name.as_str());
        if of_another {
            continue;
        }
        if let Some(said) = said(&row.event.kind, &body) {
            let when = Now::at_ms(row.event.at_utc_ms);
            found.push(Deviation {
                event: row.event.seq,
                said: format!("{when}: {said}"),
                reason: reasons.remove(&row.event.seq),
            });
        }
    }
    Ok(found)
}

/// The reasons that were given, each by the event for which it was, the last of several.
fn reasons(events: &[EventRow]) -> Result<BTreeMap<u64, Reason>, AppError> {
    let mut found = BTreeMap::new();
    for row in events.iter().filter(|row| row.event.kind == EXPLAINED) {
        let body: Value = serde_json::from_str(row.event.body.as_str())
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        let event = body.get("event").and_then(Value::as_u64);
        let said = body.get("reason").and_then(Value::as_str);
        if let Some((event, said)) = event.zip(said) {
            let reason = Reason {
                said: said.to_owned(),
                given: Now::at_ms(row.event.at_utc_ms).to_string(),
            };
            found.insert(event, reason);
        }
    }
    Ok(found)
}

/// The event that sealed a round.
fn sealed_at(events: &[EventRow], round: &RoundRow) -> u64 {
    let sealed = events.iter().find(|row| {
        row.event.kind == "round sealed" && row.event.body.as_str().contains(&round.seal)
    });
    sealed.map_or(0, |row| row.event.seq)
}

fn said(kind: &str, body: &Value) -> Option<String> {
    let number = |field: &str| body.get(field).and_then(Value::as_u64);
    Some(match kind {
        "more than planned" => {
            "a judgement that came late made one more than was planned of its word".to_owned()
        }
        "listeners invited" => invited(body.get("listeners")?.as_array()?),
        "open link made" => {
            let cap = body.pointer("/open_link/cap").and_then(Value::as_u64)?;
            format!("an open link for {cap} more listeners was made after the seal")
        }
        "link revoked" => match (number("link"), number("open_link")) {
            (Some(link), _) => format!("the link of listener {link} was taken back"),
            (None, Some(link)) => format!("open link {link} was taken back"),
            (None, None) => return None,
        },
        looks::UNPLANNED => {
            "results were looked at more often than was planned with the assignment".to_owned()
        }
        masked::BEGUN if body.get("planned") == Some(&Value::Bool(false)) => {
            "a masked visual analysis was begun that was not planned".to_owned()
        }
        looks::UNLOCKED => match body.get("masked_analysis")?.as_str()? {
            "unfinished" => {
                "the round was unlocked before its masked analysis was finished".to_owned()
            }
            _ => "the round was unlocked without the masked analysis that was planned".to_owned(),
        },
        "words excluded" => "words were left out before anybody judged them".to_owned(),
        CHILD_STOPPED | CHILD_ERASED => {
            "a child was withdrawn from the study; nothing of hers is in any result".to_owned()
        }
        LISTENER_ERASED => {
            "a listener was withdrawn from the study; nothing of hers is in any result".to_owned()
        }
        "round paused" => "the round was paused".to_owned(),
        "round resumed" => "the round went on".to_owned(),
        _ => return None,
    })
}

fn invited(listeners: &[Value]) -> String {
    let barred = listeners.iter().filter(|one| one.get("bars").is_some());
    let barred = match barred.count() {
        0 => String::new(),
        n => format!(", {n} of them barred from a child"),
    };
    let more = match listeners.len() {
        1 => "1 more listener was".to_owned(),
        n => format!("{n} more listeners were"),
    };
    format!("{more} invited after the seal{barred}")
}
