//! Listeners: who was invited, what each agreed to and said, whom she must not hear.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::links;
use super::story::ListenerStory;
use super::story::Story;
use crate::app::listening;
use crate::seal::Chain;
use crate::store::Enrolment;
use crate::store::EnrolmentTrace;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::SoundCheckRow;
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
        let mut invited = links::invited(&round, story);
        let open_links = links::open_link_numbers(reading, round.id, findings);
        check_dealt(reading, &round, story, findings);
        for row in findings.read(reading.enrolments(round.id)) {
            let Some(trace) = findings.read(reading.trace_of(row.id)) else {
                continue;
            };
            let code = row.code.to_string();
            let open_link = row.open_link.and_then(|id| open_links.get(&id).copied());
            if invited.remove(&code) != Some(links::identity(&row, open_link)) {
                findings.say(format!(
                    "listener {code} is not as she was sealed with round {} or invited to it",
                    round.name
                ));
            }
            let told = story.listeners.get(&code).unwrap_or(&none);
            let number = (round.name.to_string(), u64::from(row.number));
            if row.revoked_ms != story.revoked.get(&number).copied() {
                findings.say(format!(
                    "whether the link of listener {code} was taken back is not what the log tells"
                ));
            }
            let checks = findings.read(reading.sound_checks_of(row.id));
            if sound_checks_as_told(checks) != told.sound_checks {
                findings.say(format!(
                    "what listener {code} said of her sound is not what the log tells"
                ));
            }
            for step in steps_that_differ(&row, &trace, told, chain) {
                findings.say(format!(
                    "what listener {code} {step} is not what the log tells"
                ));
            }
            seen.insert(code);
        }
        for code in invited.keys().filter(|code| !erased(code)) {
            findings.say(format!(
                "listener {code} was invited to round {}, and is gone",
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
    check_bars(reading, story, gone, findings);
}

/// Holds the numbers that a round has dealt against the log. A study of an earlier program counted only who was not erased.
fn check_dealt(reading: &Reading<'_>, round: &RoundRow, story: &Story, findings: &mut Findings) {
    let enrolled = findings.read(reading.enrolments(round.id)).into_iter();
    let sittings = findings.read(reading.sittings_in(round.id)).into_iter();
    let numbers = enrolled.map(|row| u64::from(row.number)).max();
    let streams = sittings.map(|sitting| sitting.stream).max();
    let number = u64::from(findings.read(reading.last_number(round.id)));
    let stream = findings.read(reading.last_stream(round.id));
    let (last_number, last_stream) = links::last_dealt(round, story);
    let fits =
        |held: u64, told: u64, there: Option<u64>| held == told || held == there.unwrap_or(0);
    if !fits(number, last_number, numbers) || !fits(stream, last_stream, streams) {
        findings.say(format!(
            "which numbers of listeners and sittings round {} has dealt is not what the log tells",
            round.name
        ));
    }
}

/// What the log says of her closing answers: their digest, or the text where a row has no salt.
fn closing_as_told(row: &Enrolment, trace: &EnrolmentTrace) -> Option<String> {
    let closing = row.closing.as_ref()?;
    match &trace.closing_salt {
        Some(salt) => {
            let digest = listening::answers_digest(salt, closing).ok()?;
            Some(digest.to_string())
        }
        None => Some(closing.clone()),
    }
}

fn sound_checks_as_told(rows: Vec<SoundCheckRow>) -> BTreeMap<u64, (i64, String)> {
    rows.into_iter()
        .map(|row| (u64::from(row.number), (row.checked_ms, row.said)))
        .collect()
}

fn answers_digest(row: &Enrolment, trace: &EnrolmentTrace) -> Option<String> {
    let (salt, answers) = (trace.answers_salt.as_ref()?, row.answers.as_ref()?);
    let digest = listening::answers_digest(salt, answers).ok()?;
    Some(digest.to_string())
}

fn steps_that_differ(
    row: &Enrolment,
    trace: &EnrolmentTrace,
    told: &ListenerStory,
    chain: Option<&Chain>,
) -> Vec<&'static str> {
    let consent = row.consented_ms.zip(trace.consent_version.clone());
    let consent = consent.map(|(ms, version)| (ms, version, trace.assent.clone()));
    let answers = row.answered_ms.zip(answers_digest(row, trace));
    let finished = row.finished_ms.zip(closing_as_told(row, trace));
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
                && row.consented_ms.is_some() == trace.consent_version.is_some()
                && (trace.assent.is_none() || consent.is_some()),
        ),
        (
            "answered of herself",
            answers == told.answers
                && row.answered_ms.is_some() == row.answers.is_some()
                && row.answered_ms.is_some() == trace.answers_salt.is_some(),
        ),
        (
            "read before she judged",
            row.instructed_ms == told.instructed_ms,
        ),
        (
            "said at the end",
            finished == told_finished.map(|finished| (finished.at_ms, finished.said.clone()))
                && row.finished_ms.is_some() == row.closing.is_some()
                && (trace.closing_salt.is_none() || row.closing.is_some()),
        ),
        (
            "was let go for",
            row.let_go_ms.zip(row.let_go_why.clone()) == told.let_go
                && row.let_go_ms.is_some() == row.let_go_why.is_some(),
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
fn check_bars(reading: &Reading<'_>, story: &Story, erased: &Gone, findings: &mut Findings) {
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
    let mut allowed = BTreeSet::new();
    for (scored, bar) in known_speakers(reading, story, findings) {
        if scored {
            wanted.insert(bar);
        } else {
            allowed.insert(bar);
        }
    }
    let mut told = links::bars(story);
    for bar in findings.read(reading.bars_by_code()) {
        if let Some(salt) = &bar.salt {
            let fits = links::bar_of(salt, &bar.child)
                .is_some_and(|said| told.remove(&(bar.listener.clone(), said, bar.since_ms)));
            if !fits || bar.why != "barred" {
                findings.say(format!(
                    "a bar of listener {} is not one that the log tells",
                    bar.listener
                ));
            }
            wanted.retain(|(listener, child, ..)| (listener, child) != (&bar.listener, &bar.child));
            continue;
        }
        let row = (bar.listener.clone(), bar.child, bar.why, bar.since_ms);
        if !wanted.contains(&row) && !allowed.contains(&row) {
            findings.say(format!(
                "a bar of listener {} is neither in a sealed plan nor told by the log",
                bar.listener
            ));
        }
        // The first reason for a bar stands; others for the same child are met by it.
        wanted.retain(|(listener, child, ..)| (listener, child) != (&row.0, &row.1));
    }
    told.retain(|(listener, said, _)| {
        !erased.holds(&gone::listener(listener)) && !erased.holds(&gone::bar(listener, said))
    });
    let lost = wanted.into_iter().map(|(listener, ..)| listener);
    for listener in lost.chain(told.into_iter().map(|(listener, ..)| listener)) {
        findings.say(format!("a bar of listener {listener} is gone"));
    }
}

/// A bar: listener, child, why, since when.
type BarRow = (String, String, String, i64);

/// The bars of words that were set aside because the speaker was known, each with whether that word
/// was to be scored: an earlier program barred nobody for one that was not.
fn known_speakers(
    reading: &Reading<'_>,
    story: &Story,
    findings: &mut Findings,
) -> Vec<(bool, BarRow)> {
    let mut child_of = BTreeMap::new();
    let by_token: BTreeMap<_, _> = findings
        .read(reading.tokens())
        .into_iter()
        .filter_map(|token| {
            let scored = token.key.session.is_some();
            Some((token.id, (scored, token.key.child?.to_string())))
        })
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
            let (scored, child) = child_of.get(&row.token)?;
            let bar = || (told.listener.clone(), child.clone(), reason.clone(), *at_ms);
            (reason == "known-speaker").then(|| (*scored, bar()))
        })
        .collect()
}
