//! Links: who was invited, sealed or later, by which link, and who withdrew.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::Story;
use crate::app::links;
use crate::app::withdrawal;
use crate::seal::Salt;
use crate::store::Enrolment;
use crate::store::OpenLinkId;
use crate::store::OpenLinkRow;
use crate::store::Reading;
use crate::store::RoundId;
use crate::store::RoundRow;

/// Holds the open links against documents and log, and those who withdrew against the log.
pub(super) fn check(reading: &Reading<'_>, story: &Story, gone: &Gone, findings: &mut Findings) {
    let mut told = story.open_links.clone();
    for round in findings.read(reading.rounds()) {
        let name = round.name.to_string();
        for sealed in sealed(&round, "open_links") {
            let number = sealed.get("number").and_then(Value::as_u64);
            told.insert((name.clone(), number.unwrap_or(0)), sealed);
        }
        for row in findings.read(reading.open_links(round.id)) {
            check_open_link(&row, &name, &mut told, story, findings);
        }
    }
    for (round, number) in told.keys() {
        findings.say(format!("open link {number} of round {round} is gone"));
    }
    check_withdrawals(reading, story, gone, findings);
}

fn check_open_link(
    row: &OpenLinkRow,
    round: &str,
    told: &mut BTreeMap<(String, u64), Value>,
    story: &Story,
    findings: &mut Findings,
) {
    let key = (round.to_owned(), u64::from(row.number));
    let as_stored = serde_json::json!({
        "number": row.number,
        "kind": row.kind,
        "cap": row.cap,
        "link_sha256": row.link_sha256,
        "expires_ms": row.expires_ms,
    });
    if told.remove(&key) != Some(as_stored) {
        findings.say(format!(
            "open link {} of round {round} is not as it was made",
            row.number
        ));
    }
    if row.revoked_ms != story.revoked_open.get(&key).copied() {
        findings.say(format!(
            "whether open link {} of round {round} was taken back is not what the log tells",
            row.number
        ));
    }
}

fn check_withdrawals(reading: &Reading<'_>, story: &Story, gone: &Gone, findings: &mut Findings) {
    let mut told: BTreeSet<_> = story.withdrawals.iter().cloned().collect();
    for row in findings.read(reading.withdrawals()) {
        let who = row
            .salt
            .and_then(|salt| withdrawal::who(&salt, row.listener.as_str()).ok());
        let fits = row
            .withdrawn_ms
            .zip(who)
            .is_some_and(|(ms, who)| told.remove(&(ms, who.to_string())));
        if !fits {
            findings.say(format!(
                "whether listener {} withdrew is not what the log tells",
                row.listener
            ));
        }
    }
    told.retain(|(_, who)| !gone.holds(&gone::withdrawal(who)));
    for (ms, _) in told {
        findings.say(format!(
            "a listener withdrew, by the log at {ms} ms, and the store does not know who"
        ));
    }
}

/// Every listener of a round as the document or the log names her, in one text, by code.
pub(super) fn invited(round: &RoundRow, story: &Story) -> BTreeMap<String, String> {
    let name = round.name.as_str();
    let sealed = sealed(round, "listeners").into_iter();
    let sealed = sealed.filter_map(|told| named(&told, None));
    let later = story.invited.iter().filter(|((of, _), _)| of == name);
    sealed
        .chain(later.filter_map(|(_, invited)| named(&invited.told, invited.open_link)))
        .collect()
}

/// The highest number that any listener of a round was given, and the highest stream of any sitting; also of those who are
/// erased.
pub(super) fn last_dealt(round: &RoundRow, story: &Story) -> (u64, u64) {
    let sealed = sealed(round, "listeners");
    let sealed = sealed
        .iter()
        .filter_map(|told| told.get("number")?.as_u64());
    let later = story.invited.keys();
    let later = later.filter(|(of, _)| of == round.name.as_str());
    let numbers = sealed.chain(later.map(|(_, number)| *number));
    let codes = invited(round, story);
    let sittings = story.sittings.iter();
    let own = sittings.filter(|((code, _), _)| codes.contains_key(code));
    let streams = own.map(|(_, sitting)| sitting.stream);
    (numbers.max().unwrap_or(0), streams.max().unwrap_or(0))
}

fn sealed(round: &RoundRow, field: &str) -> Vec<Value> {
    let document: Value = serde_json::from_str(&round.document).unwrap_or_default();
    let rows = document.get(field).and_then(Value::as_array);
    rows.cloned().unwrap_or_default()
}

fn named(told: &Value, open_link: Option<u64>) -> Option<(String, String)> {
    let text = |field: &str| told.get(field)?.as_str();
    let number = told.get("number")?.as_u64()?;
    let (kind, side, link) = (text("kind")?, text("side")?, text("link_sha256")?);
    let expires_ms = told.get("expires_ms").and_then(Value::as_i64);
    let identity = format!("{number} {kind} {side} {link} {expires_ms:?} {open_link:?}");
    Some((text("listener")?.to_owned(), identity))
}

/// The same of a row. `open_link`: the number of the link by which she came.
pub(super) fn identity(row: &Enrolment, open_link: Option<u64>) -> String {
    let (number, kind, side) = (row.number, row.kind, row.side);
    let (link, expires_ms) = (&row.link_sha256, row.expires_ms);
    format!("{number} {kind} {side} {link} {expires_ms:?} {open_link:?}")
}

/// The numbers of a round's open links.
pub(super) fn open_link_numbers(
    reading: &Reading<'_>,
    round: RoundId,
    findings: &mut Findings,
) -> BTreeMap<OpenLinkId, u64> {
    let rows = findings.read(reading.open_links(round)).into_iter();
    rows.map(|row| (row.id, u64::from(row.number))).collect()
}

/// The bars that the log tells of: listener, commitment, time.
pub(super) fn bars(story: &Story) -> BTreeSet<(String, String, i64)> {
    let listeners = story.invited.values();
    listeners
        .flat_map(|invited| {
            let listener = invited.told.get("listener").and_then(Value::as_str);
            let bars = invited.told.get("bars").and_then(Value::as_array);
            bars.into_iter().flatten().filter_map(move |bar| {
                Some((
                    listener?.to_owned(),
                    bar.as_str()?.to_owned(),
                    invited.at_ms,
                ))
            })
        })
        .collect()
}

/// What the log says of a bar.
pub(super) fn bar_of(salt: &Salt, child: &str) -> Option<String> {
    links::bar_commitment(salt, child)
        .ok()
        .map(|said| said.to_string())
}
