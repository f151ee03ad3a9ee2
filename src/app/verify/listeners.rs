//! Listeners: who was invited, what each agreed to and said, whom she must not hear.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::ListenerStory;
use super::story::Story;
use crate::seal::Chain;
use crate::store::Enrolment;
use crate::store::EnrolmentTrace;
use crate::store::Reading;
use crate::study::Plan;

/// Holds the listeners of every round against its document and the log.
pub(super) fn check(
    reading: &Reading<'_>,
    story: &Story,
    gone: &Gone,
    chain: Option<&Chain>,
    findings: &mut Findings,
) {
    let erased = |code: &str| gone.holds(&gone::listener(code));
    let none = ListenerStory::default();
    let mut seen = BTreeSet::new();
    for round in findings.read(reading.rounds()) {
        let mut invited = invited(&round.document);
        for row in findings.read(reading.enrolments(round.id)) {
            let Some(trace) = findings.read(reading.trace_of(row.id)) else {
                continue;
            };
            let code = row.code.to_string();
            if invited.remove(&code) != Some(identity(&row, &trace)) {
                findings.say(format!(
                    "listener {code} is not as she was sealed with round {}",
                    round.name
                ));
            }
            let told = story.listeners.get(&code).unwrap_or(&none);
            for step in steps_that_differ(&row, &trace, told, chain) {
                findings.say(format!(
                    "what listener {code} {step} is not what the log tells"
                ));
            }
            seen.insert(code);
        }
        for code in invited.keys().filter(|code| !erased(code)) {
            findings.say(format!(
                "listener {code} was sealed with round {}, and is gone",
                round.name
            ));
        }
    }
    let told = story.listeners.keys();
    for code in told.filter(|code| !seen.contains(*code) && !erased(code)) {
        findings.say(format!(
            "the log tells of listener {code}, who is in no round"
        ));
    }
    for code in findings.read(reading.listeners_without_round()) {
        findings.say(format!("listener {code} is in the store and in no round"));
    }
    check_bars(reading, story, findings);
}

/// What the document fixes of a listener, in one text.
fn identity(row: &Enrolment, trace: &EnrolmentTrace) -> String {
    let (number, kind, side) = (u64::from(row.number), row.kind, row.side);
    format!("{number} {kind} {side} {}", trace.link_sha256)
}

/// The same of every listener in a document, by code.
fn invited(document: &str) -> BTreeMap<String, String> {
    let document: Value = serde_json::from_str(document).unwrap_or_default();
    let rows = document.get("listeners").and_then(Value::as_array);
    rows.into_iter()
        .flatten()
        .filter_map(|row| {
            let text = |field: &str| row.get(field)?.as_str();
            let number = row.get("number")?.as_u64()?;
            let (kind, side, link) = (text("kind")?, text("side")?, text("link_sha256")?);
            Some((
                text("listener")?.to_owned(),
                format!("{number} {kind} {side} {link}"),
            ))
        })
        .collect()
}

fn steps_that_differ(
    row: &Enrolment,
    trace: &EnrolmentTrace,
    told: &ListenerStory,
    chain: Option<&Chain>,
) -> Vec<&'static str> {
    let consent = row.consented_ms.zip(trace.consent_version.clone());
    let sound_check = row.sound_check_ms.zip(trace.sound_check.clone());
    let finished = row.finished_ms.zip(row.closing.clone());
    let told_finished = told.finished.as_ref();
    let receipt = told_finished.and_then(|finished| {
        let head = chain?.head_at(finished.seq)?;
        Some(head.receipt().to_string())
    });
    let opened = row.opened_ms == told.opened_ms;
    let steps = [
        ("did with her link", opened),
        (
            "agreed to",
            consent == told.consent
                && row.consented_ms.is_some() == trace.consent_version.is_some(),
        ),
        (
            "said of her sound",
            sound_check == told.sound_check
                && row.sound_check_ms.is_some() == trace.sound_check.is_some(),
        ),
        (
            "read before she judged",
            row.instructed_ms == told.instructed_ms,
        ),
        (
            "said at the end",
            finished == told_finished.map(|finished| (finished.at_ms, finished.said.clone()))
                && row.finished_ms.is_some() == row.closing.is_some(),
        ),
        (
            "holds as her receipt",
            chain.is_none() || row.receipt == receipt,
        ),
    ];
    steps
        .into_iter()
        .filter(|(_, fits)| !fits)
        .map(|(step, _)| step)
        .collect()
}

/// Bars follow from the plans, and from words set aside because the speaker was known.
fn check_bars(reading: &Reading<'_>, story: &Story, findings: &mut Findings) {
    let mut wanted = BTreeSet::new();
    for round in findings.read(reading.rounds()) {
        let codes: BTreeMap<_, _> = findings
            .read(reading.enrolments(round.id))
            .into_iter()
            .map(|row| (row.number, row.code.to_string()))
            .collect();
        let plan: Option<Plan> = serde_json::from_str(&round.plan).ok();
        for bar in plan.into_iter().flat_map(|plan| plan.listeners.bars) {
            if let (Some(code), Some(since_ms)) = (codes.get(&bar.listener), round.opened_ms) {
                wanted.insert((
                    code.clone(),
                    bar.child.to_string(),
                    "barred".to_owned(),
                    since_ms,
                ));
            }
        }
    }
    wanted.extend(known_speakers(reading, story, findings));
    for bar in findings.read(reading.bars_by_code()) {
        let row = (bar.listener.clone(), bar.child, bar.why, bar.since_ms);
        if !wanted.contains(&row) {
            findings.say(format!(
                "a bar of listener {} is neither in a sealed plan nor told by the log",
                bar.listener
            ));
        }
        // The first reason for a bar stands; others for the same child are met by it.
        wanted.retain(|(listener, child, ..)| (listener, child) != (&row.0, &row.1));
    }
    for (listener, ..) in wanted {
        findings.say(format!("a bar of listener {listener} is gone"));
    }
}

fn known_speakers(
    reading: &Reading<'_>,
    story: &Story,
    findings: &mut Findings,
) -> Vec<(String, String, String, i64)> {
    let mut child_of = BTreeMap::new();
    let by_token: BTreeMap<_, _> = findings
        .read(reading.tokens())
        .into_iter()
        .filter(|token| token.key.session.is_some())
        .filter_map(|token| Some((token.id, token.key.child?.to_string())))
        .collect();
    for round in findings.read(reading.rounds()) {
        for row in findings.read(reading.round_tokens(round.id)) {
            if let Some(child) = by_token.get(&row.token) {
                child_of.insert(row.id, child.clone());
            }
        }
    }
    findings
        .read(reading.presentations())
        .into_iter()
        .filter_map(|row| {
            let told = story.places.get(&row.id.to_string())?;
            let (reason, at_ms) = told.aside.as_ref()?;
            let child = child_of.get(&row.token)?;
            (reason == "known-speaker")
                .then(|| (told.listener.clone(), child.clone(), reason.clone(), *at_ms))
        })
        .collect()
}
