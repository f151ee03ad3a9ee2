//! The sealed document of an assignment: all that was fixed, children by number, with salted commitments for who they are.

use std::collections::BTreeMap;

use serde_json::Value;
use serde_json::json;

use crate::analysis::DrawNumbers;
use crate::app::AppError;
use crate::app::log;
use crate::app::sealing::document::as_json;
use crate::seal;
use crate::seal::Canonical;
use crate::seal::Digest;
use crate::seal::Head;
use crate::seal::Salt;
use crate::store::AssignedChildRow;
use crate::store::AssignmentRow;
use crate::study::AssignmentPlan;
use crate::study::Enrolled;

/// The plan as it may be shown: children by number.
pub(in crate::app) fn public_plan(plan: &AssignmentPlan) -> Result<Canonical, AppError> {
    log::canonical(&as_json(&plan.numbered())?)
}

/// What is sealed; `row` still lacks its document.
pub(super) fn document(
    row: &AssignmentRow,
    children: &[AssignedChildRow],
    numbers: &DrawNumbers,
    earlier: &[String],
    recordings: Recordings,
    head: Head,
) -> Result<Canonical, AppError> {
    let children = children
        .iter()
        .map(|child| {
            let commitment = child_commitment(child)?;
            Ok(json!({"number": child.number, "commitment": commitment}))
        })
        .collect::<Result<Vec<_>, AppError>>()?;
    let why = why_commitment(&row.salt, row.why.as_deref())?;
    log::canonical(&json!({
        "format": "fairhearing assignment 1",
        "program": env!("CARGO_PKG_VERSION"),
        "assignment": row.number,
        "earlier": earlier,
        "why": why,
        "recordings": recordings.all,
        "later_recordings": recordings.later,
        "plan": read(&row.plan)?,
        "children": children,
        // As text: a number beyond 2^53 has no one form.
        "draws": numbers.draws.to_string(),
        "smallest_p": numbers.smallest_p,
        "smallest_p_two_sided": numbers.smallest_p_two_sided,
        "seed": data_encoding::HEXLOWER.encode(&row.seed),
        "drawn": read(&row.drawn)?,
        "log": {"count": head.count, "head": head.digest},
    }))
}

/// The commitment to who a number is.
pub(in crate::app) fn child_commitment(child: &AssignedChildRow) -> Result<Digest, AppError> {
    let value = json!({
        "number": child.number,
        "code": child.code,
        "age_months": child.age_months,
        "severity": child.severity,
    });
    Ok(seal::commit(&child.salt, &log::canonical(&value)?))
}

/// The commitment to why it was drawn again, or to nothing.
pub(in crate::app) fn why_commitment(salt: &Salt, why: Option<&str>) -> Result<Digest, AppError> {
    Ok(seal::commit(salt, &log::canonical(&json!({"why": why}))?))
}

/// The plan with the codes of those who are still there.
pub(in crate::app) fn plan_of(
    row: &AssignmentRow,
    children: &[AssignedChildRow],
) -> Result<AssignmentPlan, AppError> {
    let plan: AssignmentPlan =
        serde_json::from_str(&row.plan).map_err(|error| AppError::Unreadable(error.to_string()))?;
    let known: BTreeMap<String, &AssignedChildRow> = children
        .iter()
        .map(|child| (child.number.to_string(), child))
        .collect();
    let facts: Vec<Enrolled> = plan
        .children
        .iter()
        .map(|child| {
            let row = known.get(child.code.as_str());
            Enrolled {
                code: row.map_or(&child.code, |row| &row.code).clone(),
                age_months: row.and_then(|row| row.age_months),
                severity: row.and_then(|row| row.severity.clone()),
            }
        })
        .collect();
    let name = |number: &str| {
        let row = known.get(number);
        row.map_or_else(|| number.to_owned(), |row| row.code.to_string())
    };
    Ok(AssignmentPlan {
        children: facts,
        ..plan.renamed(&name)
    })
}

/// What was drawn.
pub(in crate::app) fn drawn_of(row: &AssignmentRow) -> Result<Vec<Vec<usize>>, AppError> {
    serde_json::from_str(&row.drawn).map_err(|error| AppError::Unreadable(error.to_string()))
}

/// How many recordings there were when it was drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::app) struct Recordings {
    pub(in crate::app) all: u64,
    /// Of the later phase of the contrast: treatment had begun.
    pub(in crate::app) later: u64,
}

/// The same out of the sealed document.
pub(in crate::app) fn recordings_of(row: &AssignmentRow) -> Recordings {
    Recordings {
        all: field(row, "recordings").as_u64().unwrap_or(0),
        later: field(row, "later_recordings").as_u64().unwrap_or(0),
    }
}

/// The version that drew.
pub(super) fn program_of(row: &AssignmentRow) -> String {
    field(row, "program")
        .as_str()
        .unwrap_or_default()
        .to_owned()
}

fn field(row: &AssignmentRow, name: &str) -> Value {
    let document = read(&row.document).unwrap_or_default();
    document.get(name).cloned().unwrap_or_default()
}

fn read(text: &str) -> Result<Value, AppError> {
    serde_json::from_str(text).map_err(|error| AppError::Unreadable(error.to_string()))
}
