//! Assignments: as they were sealed, and drawn from their seed.

use std::collections::BTreeMap;

use serde_json::Value;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::AssignmentStory;
use super::story::Story;
use crate::analysis::Possible;
use crate::app::assigning;
use crate::app::assigning::document;
use crate::app::log;
use crate::seal;
use crate::seal::Canonical;
use crate::store::AssignedChildRow;
use crate::store::AssignmentRow;
use crate::store::Reading;

/// Holds every assignment against its document and the log, and draws it again.
pub(super) fn check(reading: &Reading<'_>, story: &Story, gone: &Gone, findings: &mut Findings) {
    let rows = findings.read(reading.assignments());
    for number in story.assignments.keys() {
        if !rows.iter().any(|row| u64::from(row.number) == *number) {
            findings.say(format!(
                "assignment {number} was drawn, and is not in the store"
            ));
        }
    }
    for row in &rows {
        let number = row.number;
        match story.assignments.get(&u64::from(number)) {
            Some(told) if is_as_told(row, told) => {}
            Some(_) => findings.say(format!(
                "assignment {number} is not the one that the log tells"
            )),
            None => findings.say(format!(
                "assignment {number} is in the store, and no event tells that it was drawn"
            )),
        }
        let children = findings.read(reading.assigned_children(row.id));
        let document: Value = serde_json::from_str(&row.document).unwrap_or_default();
        check_document(row, &document, findings);
        check_children(row, &document, &children, gone, findings);
        if children.len() == sealed_children(&document).len()
            && !is_drawn_from_its_seed(row, &children)
        {
            findings.say(format!("assignment {number} is not what its seed draws"));
        }
    }
}

fn is_as_told(row: &AssignmentRow, told: &AssignmentStory) -> bool {
    let why = document::why_commitment(&row.salt, row.why.as_deref());
    row.seal == told.seal
        && row.drawn_ms == told.drawn_ms
        && why.is_ok_and(|why| why.to_string() == told.why)
}

fn check_document(row: &AssignmentRow, document: &Value, findings: &mut Findings) {
    let seal = seal::seal_of(&Canonical::stored(row.document.as_str())).to_string();
    // As texts: 0.0 and 0 are one number there.
    let part = |name: &str| log::canonical(document.get(name).unwrap_or(&Value::Null)).ok();
    let same =
        |name: &str, stored: &str| part(name).is_some_and(|sealed| sealed.as_str() == stored);
    let seed = document.get("seed").and_then(Value::as_str);
    let fits = seal == row.seal
        && same("plan", &row.plan)
        && same("drawn", &row.drawn)
        && seed == Some(data_encoding::HEXLOWER.encode(&row.seed).as_str())
        && document.get("assignment").and_then(Value::as_u64) == Some(u64::from(row.number));
    if !fits {
        findings.say(format!("assignment {} is not as it was sealed", row.number));
    }
}

fn check_children(
    row: &AssignmentRow,
    document: &Value,
    children: &[AssignedChildRow],
    gone: &Gone,
    findings: &mut Findings,
) {
    let mut sealed = sealed_children(document);
    for child in children {
        let found = document::child_commitment(child).map(|found| found.to_string());
        if sealed.remove(&u64::from(child.number)) != found.ok() {
            findings.say(format!(
                "child {} of assignment {} is not as it was sealed",
                child.number, row.number
            ));
        }
    }
    let there = |number: &&u64| !gone.holds(&gone::assigned(u64::from(row.number), **number));
    for number in sealed.keys().filter(there) {
        findings.say(format!(
            "child {number} of assignment {} was sealed, and is gone",
            row.number
        ));
    }
}

/// The commitment of each child by its number.
fn sealed_children(document: &Value) -> BTreeMap<u64, String> {
    let rows = document.get("children").and_then(Value::as_array);
    rows.into_iter()
        .flatten()
        .filter_map(|row| {
            let commitment = row.get("commitment")?.as_str()?.to_owned();
            Some((row.get("number")?.as_u64()?, commitment))
        })
        .collect()
}

fn is_drawn_from_its_seed(row: &AssignmentRow, children: &[AssignedChildRow]) -> bool {
    let Ok(plan) = document::plan_of(row, children) else {
        return false;
    };
    let Ok(possible) = Possible::of(&plan) else {
        return false;
    };
    document::drawn_of(row).is_ok_and(|drawn| drawn == assigning::draw_from(&row.seed, &possible))
}
