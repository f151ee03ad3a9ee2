//! What a round yielded, read from the store once the round is unlocked.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::AppError;
use super::Workspace;
use super::consent;
use super::log;
use super::round;
use super::withdraw::CHILD_ERASED;
use super::withdraw::CHILD_STOPPED;
use super::withdraw::LISTENER_ERASED;
use crate::seal;
use crate::seal::Head;
use crate::store::Enrolment;
use crate::store::EventRow;
use crate::store::Reading;
use crate::store::ResultRow;
use crate::store::RoundId;
use crate::store::RoundRow;
use crate::store::RoundTokenId;
use crate::store::RoundTokenRow;
use crate::store::TokenRow;
use crate::study::ChildCode;
use crate::study::ListenerCode;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::StudySettings;
use crate::study::Unlocked;
use crate::study::record::Came;
use crate::study::record::ExcludedRecord;
use crate::study::record::ListenerRecord;
use crate::study::record::MissingRecord;
use crate::study::record::PresentationRecord;
use crate::study::record::RoundFacts;
use crate::study::record::RoundMention;
use crate::study::record::RoundRecord;
use crate::study::record::TokenRecord;

/// The name of the event that closes a round.
const CLOSED: &str = "round closed";

/// The proof that a round's results may be seen.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round or it is not unlocked.
pub fn unlocked(workspace: &Workspace, name: &RoundName) -> Result<Unlocked, AppError> {
    let round = workspace
        .store()
        .read(|reading| round::named(reading, name))?;
    Unlocked::of(round.name, round.state).ok_or_else(|| {
        AppError::refused(
            format!(
                "round {name} is {}: its results are not to be seen yet",
                round.state
            ),
            "close it when enough was judged, then unlock it",
        )
    })
}

/// All that an unlocked round yielded, up to its close.
///
/// # Errors
/// [`AppError::Store`] or [`AppError::Unreadable`] if the study cannot be read.
pub fn record(workspace: &Workspace, unlocked: &Unlocked) -> Result<RoundRecord, AppError> {
    workspace.store().read(|reading| {
        let round = round::named(reading, unlocked.round())?;
        let document: serde_json::Value = read_json(&round.document)?;
        let plan: Plan = read_json(&round.plan)?;
        let settings: StudySettings =
            serde_json::from_value(document.get("study").cloned().unwrap_or_default())
                .map_err(|error| AppError::Unreadable(error.to_string()))?;
        let played = in_use(reading.round_tokens(round.id)?);
        let names = names(&played);
        let presentations = presentations(reading.results(round.id)?, &names);
        let began: BTreeSet<_> = presentations
            .iter()
            .map(|row| row.listener.clone())
            .collect();
        Ok(RoundRecord {
            facts: facts(reading, &round, &played, &document, &plan)?,
            settings,
            plan,
            sealed: round.document.clone(),
            tokens: tokens(reading.tokens()?, &played, &names),
            listeners: reading
                .enrolments(round.id)?
                .iter()
                .map(|enrolment| listener(enrolment, &began))
                .collect(),
            presentations,
            missing: missing(reading)?,
            excluded: excluded(reading, &round)?,
        })
    })
}

/// The children of a record in an order that tells nothing of their codes: by digests with the
/// round's salt, which never leaves the study.
pub(super) fn order_that_tells_nothing(
    workspace: &Workspace,
    unlocked: &Unlocked,
    record: &RoundRecord,
) -> Result<Vec<ChildCode>, AppError> {
    let round = workspace
        .store()
        .read(|reading| round::named(reading, unlocked.round()))?;
    let played = record
        .tokens
        .iter()
        .filter_map(|token| token.key.child.clone());
    let missing = record.missing.iter().map(|row| row.child.as_str());
    let others = missing.chain(record.excluded.iter().map(|row| row.child.as_str()));
    let others = others.filter_map(|code| ChildCode::new(code).ok());
    let mut children = BTreeMap::new();
    for child in played.chain(others) {
        let code = log::canonical(&serde_json::json!({"child": child}))?;
        children.insert(seal::commit(&round.salt, &code), child);
    }
    Ok(children.into_values().collect())
}

fn read_json<T: serde::de::DeserializeOwned>(text: &str) -> Result<T, AppError> {
    serde_json::from_str(text).map_err(|error| AppError::Unreadable(error.to_string()))
}

/// What is to be counted: nothing excluded, and nothing of a child out of use.
fn in_use(mut tokens: Vec<RoundTokenRow>) -> Vec<RoundTokenRow> {
    tokens.retain(|token| token.in_use);
    tokens
}

/// Names in the order of the sealed numbers: `T` and 1, 2, … with as many digits as the longest
/// needs, so that names sort as numbers do. Counted over what is there: no gap tells of a word that
/// is gone.
fn names(played: &[RoundTokenRow]) -> BTreeMap<RoundTokenId, String> {
    let digits = played.len().to_string().len();
    let rows = played.iter().zip(1..);
    rows.map(|(token, place)| (token.id, format!("T{place:0digits$}")))
        .collect()
}

fn tokens(
    all: Vec<TokenRow>,
    played: &[RoundTokenRow],
    names: &BTreeMap<RoundTokenId, String>,
) -> Vec<TokenRecord> {
    let mut by_id: BTreeMap<_, _> = all.into_iter().map(|token| (token.id, token)).collect();
    played
        .iter()
        .filter_map(|row| {
            let token = by_id.remove(&row.token)?;
            Some(TokenRecord {
                name: names.get(&row.id)?.clone(),
                key: token.key,
                audio_sha256: token.prepared.sha256,
                seconds: token.prepared.seconds,
                level_lufs: token.prepared.level_lufs,
                snr_db: token.prepared.snr_db,
                bandwidth_hz: token.prepared.bandwidth_hz,
                marks: token.prepared.marks,
            })
        })
        .collect()
}

fn presentations(
    rows: Vec<ResultRow>,
    names: &BTreeMap<RoundTokenId, String>,
) -> Vec<PresentationRecord> {
    let mut heard: BTreeMap<ListenerCode, u32> = BTreeMap::new();
    rows.into_iter()
        .filter_map(|row| {
            let order = heard.entry(row.listener.clone()).or_default();
            *order += 1;
            Some(PresentationRecord {
                token: names.get(&row.token)?.clone(),
                order: *order,
                listener: row.listener,
                kind: row.kind,
                sitting: row.sitting,
                answer: row.answer.filter(|_| row.aside.is_none()),
                aside: row.aside,
                revisions: row.revisions,
                rt_ms: row.rt_ms,
                replays: row.replays,
                known_speaker: row.known_speaker,
            })
        })
        .collect()
}

fn listener(enrolment: &Enrolment, began: &BTreeSet<ListenerCode>) -> ListenerRecord {
    let came = if enrolment.finished_ms.is_some() {
        Came::Finished
    } else if began.contains(&enrolment.code) {
        Came::Began
    } else if enrolment.consented_ms.is_some() {
        Came::Agreed
    } else if enrolment.opened_ms.is_some() {
        Came::Opened
    } else {
        Came::Invited
    };
    ListenerRecord {
        code: enrolment.code.clone(),
        kind: enrolment.kind,
        came,
    }
}

/// The scored words that were left out by the round's close.
fn excluded(reading: &Reading<'_>, round: &RoundRow) -> Result<Vec<ExcludedRecord>, AppError> {
    let stopped = consent::stopped(reading)?;
    let tokens = reading.tokens()?;
    let mut rows: Vec<_> = reading
        .exclusions()?
        .into_iter()
        .filter(|row| row.since_ms <= round.closed_ms)
        .filter_map(|row| {
            let key = &tokens.iter().find(|token| token.id == row.token)?.key;
            let child = key
                .child
                .as_ref()
                .filter(|child| !stopped.contains(child))?;
            Some(ExcludedRecord {
                child: child.to_string(),
                session: key.session.filter(|_| key.use_.is_scored())?,
                phase: key.phase.as_ref()?.to_string(),
                word: key.word.text(),
                reason: row.reason,
            })
        })
        .collect();
    rows.sort_by(|a, b| (&a.child, a.session, &a.word).cmp(&(&b.child, b.session, &b.word)));
    Ok(rows)
}

fn missing(reading: &Reading<'_>) -> Result<Vec<MissingRecord>, AppError> {
    let stopped = consent::stopped(reading)?;
    let children: BTreeMap<_, _> = reading
        .children()?
        .into_iter()
        .filter(|child| !stopped.contains(&child.code))
        .map(|child| (child.id, child.code))
        .collect();
    let sessions: BTreeMap<_, _> = reading
        .sessions()?
        .into_iter()
        .map(|session| (session.id, session))
        .collect();
    let mut rows: Vec<_> = reading
        .missing()?
        .into_iter()
        .filter_map(|row| {
            let session = sessions.get(&row.session)?;
            Some(MissingRecord {
                child: children.get(&session.child)?.to_string(),
                session: session.ordinal,
                phase: session.phase.to_string(),
                word: row.word.text(),
                reason: row.reason,
            })
        })
        .collect();
    rows.sort_by(|a, b| (&a.child, a.session, &a.word).cmp(&(&b.child, b.session, &b.word)));
    Ok(rows)
}

fn facts(
    reading: &Reading<'_>,
    round: &RoundRow,
    played: &[RoundTokenRow],
    document: &serde_json::Value,
    plan: &Plan,
) -> Result<RoundFacts, AppError> {
    let events = reading.events()?;
    let head = head_at_close(&events, round)?;
    let text = |field: &str| {
        document
            .get(field)
            .and_then(serde_json::Value::as_str)
            .unwrap_or_default()
            .to_owned()
    };
    let own: BTreeSet<_> = played.iter().map(|token| token.token).collect();
    let shared = |id: RoundId| -> Result<usize, AppError> {
        Ok(in_use(reading.round_tokens(id)?)
            .iter()
            .filter(|token| own.contains(&token.token))
            .count())
    };
    let rounds = reading
        .rounds()?
        .into_iter()
        .filter(|other| other.id <= round.id)
        .map(|other| {
            Ok(RoundMention {
                round: other.name.to_string(),
                shared_tokens: shared(other.id)?,
                seal: other.seal,
            })
        })
        .collect::<Result<_, AppError>>()?;
    Ok(RoundFacts {
        round: round.name.to_string(),
        seal: round.seal.clone(),
        sealed_by: text("program"),
        opened: moment(round.opened_ms)?,
        closed: moment(round.closed_ms)?,
        seed: data_encoding::HEXLOWER.encode(&round.seed),
        events: head.count,
        head: head.digest.to_string(),
        rounds,
        deviations: deviations(&events, &round.seal, head.count)?,
        known_answers: document
            .get("known_answers")
            .and_then(|counts| serde_json::from_value(counts.clone()).ok()),
        simulated: plan.listeners.simulated,
    })
}

/// Where the log stood at the round's close: what came later is not in its results.
fn head_at_close(events: &[EventRow], round: &RoundRow) -> Result<Head, AppError> {
    events
        .iter()
        .rfind(|row| {
            row.event.kind == CLOSED
                && serde_json::from_str::<serde_json::Value>(row.event.body.as_str()).is_ok_and(
                    |body| {
                        body.get("round").and_then(|name| name.as_str())
                            == Some(round.name.as_str())
                    },
                )
        })
        .map(|row| Head {
            count: row.event.seq,
            digest: row.digest,
        })
        .ok_or_else(|| AppError::Unreadable(format!("no close of round {} is logged", round.name)))
}

/// What the log tells that no plan foresaw: up to the close, and withdrawals whenever they came,
/// since nothing of them is in the results.
fn deviations(events: &[EventRow], seal: &str, until: u64) -> Result<Vec<String>, AppError> {
    let sealed = events
        .iter()
        .find(|row| row.event.kind == "round sealed" && row.event.body.as_str().contains(seal))
        .map_or(0, |row| row.event.seq);
    events
        .iter()
        .filter(|row| row.event.seq > sealed)
        .filter_map(|row| {
            Some((
                row,
                deviation(row.event.kind.as_str(), row.event.seq <= until)?,
            ))
        })
        .map(|(row, what)| Ok(format!("{}: {what}", moment(Some(row.event.at_utc_ms))?)))
        .collect()
}

fn deviation(kind: &str, before_the_close: bool) -> Option<&'static str> {
    match kind {
        "more than planned" if before_the_close => {
            Some("a judgement that came late made one more than was planned of its word")
        }
        "words excluded" if before_the_close => {
            Some("words were left out before anybody judged them")
        }
        CHILD_STOPPED | CHILD_ERASED => {
            Some("a child was withdrawn from the study; nothing of hers is in any result")
        }
        LISTENER_ERASED => {
            Some("a listener was withdrawn from the study; nothing of hers is in any result")
        }
        _ => None,
    }
}

fn moment(ms: Option<i64>) -> Result<String, AppError> {
    let Some(ms) = ms else {
        return Ok(String::new());
    };
    jiff::Timestamp::from_millisecond(ms)
        .map(|moment| moment.to_string())
        .map_err(|error| AppError::Unreadable(error.to_string()))
}
