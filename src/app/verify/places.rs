//! Sittings, their places and the judgements, row by row.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::Findings;
use super::gone;
use super::gone::Gone;
use super::story::GateStory;
use super::story::PlaceStory;
use super::story::Story;
use crate::app::listening;
use crate::store::JudgementRow;
use crate::store::NewPresentation;
use crate::store::PlayRow;
use crate::store::PresentationRow;
use crate::store::Reading;
use crate::store::RoundTokenId;
use crate::store::SittingId;
use crate::store::SittingTrace;

/// Holds sittings, places and judgements against the log; says how many judgements there are.
pub(super) fn check(
    reading: &Reading<'_>,
    story: &Story,
    erased: &Gone,
    findings: &mut Findings,
) -> usize {
    let sittings = check_sittings(reading, story, erased, findings);
    let numbers = token_numbers(reading, findings);
    check_gates(reading, story, &sittings, erased, findings);
    let mut missing: BTreeSet<_> = story.places.keys().cloned().collect();
    for row in findings.read(reading.presentations()) {
        let id = row.id.to_string();
        missing.remove(&id);
        let Some(told) = story.places.get(&id) else {
            findings.say(format!(
                "presentation {id} is in the store, and no event tells of it"
            ));
            continue;
        };
        if !is_as_reserved(&row, told, &sittings, &numbers) {
            findings.say(format!("presentation {id} is not as it was reserved"));
        }
        let aside = told.aside.as_ref().map(|(reason, _)| reason.as_str());
        let state = row.state.as_str();
        if state != told.state || row.aside.map(crate::study::SetAside::as_str) != aside {
            findings.say(format!(
                "presentation {id} is {state} in the store, and not so by the log"
            ));
        }
        if row.voided != told.voided {
            findings.say(format!(
                "the store tells otherwise than the log how often presentation {id} was cut short"
            ));
        }
    }
    missing.retain(|id| !erased.holds(&gone::place(id)));
    for id in missing {
        findings.say(format!("presentation {id} was reserved, and is gone"));
    }
    let judgements = findings.read(reading.judgements());
    check_plays(&findings.read(reading.plays()), &judgements, findings);
    check_judgements(&judgements, story, erased, findings)
}

fn check_sittings(
    reading: &Reading<'_>,
    story: &Story,
    erased: &Gone,
    findings: &mut Findings,
) -> BTreeMap<SittingId, SittingTrace> {
    let rows = findings.read(reading.sittings());
    let mut missing: BTreeSet<_> = story.sittings.keys().cloned().collect();
    for row in &rows {
        let key = (row.listener.clone(), u64::from(row.number));
        let said = format!("sitting {} of listener {}", row.number, row.listener);
        missing.remove(&key);
        let fits = story.sittings.get(&key).map(|told| {
            told.stream == row.stream
                && told.begun_ms == row.begun_ms
                && told.ended == row.ended_ms.zip(row.ended_why.clone())
                && row.ended_ms.is_some() == row.ended_why.is_some()
        });
        match fits {
            None => findings.say(format!("{said} is in the store, and no event tells of it")),
            Some(false) => findings.say(format!("{said} is not as the log tells it")),
            Some(true) => {}
        }
    }
    missing.retain(|(listener, _)| !erased.holds(&gone::listener(listener)));
    for (listener, number) in missing {
        findings.say(format!(
            "sitting {number} of listener {listener} was begun, and is gone"
        ));
    }
    rows.into_iter().map(|row| (row.id, row)).collect()
}

/// The sealed number of every token of every round.
fn token_numbers(reading: &Reading<'_>, findings: &mut Findings) -> BTreeMap<RoundTokenId, u32> {
    let mut numbers = BTreeMap::new();
    for round in findings.read(reading.rounds()) {
        let tokens = findings.read(reading.round_tokens(round.id));
        numbers.extend(tokens.into_iter().map(|token| (token.id, token.number)));
    }
    numbers
}

fn is_as_reserved(
    row: &PresentationRow,
    told: &PlaceStory,
    sittings: &BTreeMap<SittingId, SittingTrace>,
    numbers: &BTreeMap<RoundTokenId, u32>,
) -> bool {
    let in_its_sitting = sittings.get(&row.sitting).is_some_and(|sitting| {
        sitting.listener == told.listener && u64::from(sitting.number) == told.sitting
    });
    let digest = numbers
        .get(&row.token)
        .and_then(|number| listening::place_digest(&as_added(row), *number).ok());
    in_its_sitting && digest.is_some_and(|digest| digest.to_string() == told.digest)
}

/// A place as it was when it was reserved.
fn as_added(row: &PresentationRow) -> NewPresentation {
    NewPresentation {
        id: row.id,
        token: row.token,
        place: row.place,
        block: row.block,
        kind: row.kind,
        salt: row.salt,
    }
}

/// Where listeners went on between two words.
fn check_gates(
    reading: &Reading<'_>,
    story: &Story,
    sittings: &BTreeMap<SittingId, SittingTrace>,
    erased: &Gone,
    findings: &mut Findings,
) {
    let mut told = story.gates.clone();
    for row in findings.read(reading.gates()) {
        let found = sittings.get(&row.sitting).map(|sitting| GateStory {
            listener: sitting.listener.clone(),
            sitting: u64::from(sitting.number),
            place: u64::from(row.place),
            kind: row.kind.as_str().to_owned(),
            passed_ms: row.passed_ms,
        });
        if !found.is_some_and(|found| told.remove(&found)) {
            findings.say("the store tells otherwise than the log where a listener went on");
        }
    }
    told.retain(|gate| !erased.holds(&gone::listener(&gate.listener)));
    for gate in told {
        findings.say(format!(
            "listener {} went on at place {}, and that is gone",
            gate.listener, gate.place
        ));
    }
}

/// The log tells of plays by the answers that count them: none counts fewer than there were before it.
fn check_plays(rows: &[PlayRow], judgements: &[JudgementRow], findings: &mut Findings) {
    let mut played: BTreeMap<_, Vec<u32>> = BTreeMap::new();
    for row in rows {
        let answers = played.entry(row.presentation).or_default();
        answers.push(row.answers);
    }
    for row in judgements {
        let before = played.get(&row.presentation).into_iter().flatten();
        let plays = before.filter(|answers| **answers < row.revision).count();
        if plays > row.replays as usize + 1 {
            findings.say(format!(
                "presentation {} was played {plays} times before its judgement {}, which tells of fewer",
                row.presentation, row.revision
            ));
        }
    }
}

fn check_judgements(
    rows: &[JudgementRow],
    story: &Story,
    erased: &Gone,
    findings: &mut Findings,
) -> usize {
    let mut told: BTreeMap<(String, u64), &str> = story
        .places
        .iter()
        .filter(|(id, _)| !erased.holds(&gone::place(id)))
        .flat_map(|(id, place)| {
            let revisions = place.judgements.iter();
            revisions.map(|(revision, digest)| ((id.clone(), *revision), digest.as_str()))
        })
        .collect();
    for row in rows {
        let id = row.presentation.to_string();
        let revision = u64::from(row.revision);
        let digest = listening::judgement_digest(row).map(|digest| digest.to_string());
        match told.remove(&(id.clone(), revision)) {
            None => findings.say(format!(
                "judgement {revision} of presentation {id} is in the store, and no event tells of it"
            )),
            Some(told) if digest.is_ok_and(|digest| digest == told) => {}
            Some(_) => findings.say(format!(
                "judgement {revision} of presentation {id} is not as it was written"
            )),
        }
    }
    for (id, revision) in told.keys() {
        findings.say(format!(
            "judgement {revision} of presentation {id} was written, and is gone"
        ));
    }
    rows.len()
}
