//! What a round yielded, read from the store once the round is unlocked.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::AppError;
use super::Workspace;
use super::consent;
use super::deviations;
use super::deviations::Deviation;
use super::drawn;
use super::drawn::DrawnBefore;
use super::log;
use super::looks;
use super::looks::CLOSED;
use super::masked;
use super::mentions;
use super::round;
use super::said;
use crate::seal;
use crate::seal::Head;
use crate::store::Enrolment;
use crate::store::EventRow;
use crate::store::Reading;
use crate::store::ResultRow;
use crate::store::RoundRow;
use crate::store::RoundTokenId;
use crate::store::RoundTokenRow;
use crate::store::TokenRow;
use crate::study::Assignment;
use crate::study::ChildCode;
use crate::study::ListenerCode;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::StudySettings;
use crate::study::Unlocked;
use crate::study::record::Came;
use crate::study::record::DeviationRecord;
use crate::study::record::ExcludedRecord;
use crate::study::record::ListenerRecord;
use crate::study::record::MissingRecord;
use crate::study::record::PresentationRecord;
use crate::study::record::RoundFacts;
use crate::study::record::RoundRecord;
use crate::study::record::TokenRecord;
use crate::study::record::WhyAside;

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

/// The rounds that were unlocked before this one, in the order in which they were sealed.
pub(super) fn unlocked_before(
    workspace: &Workspace,
    unlocked: &Unlocked,
) -> Result<Vec<Unlocked>, AppError> {
    workspace.store().read(|reading| {
        let events = reading.events()?;
        let opened = events
            .iter()
            .filter(|row| row.event.kind == looks::UNLOCKED);
        let before: BTreeSet<String> = opened
            .filter_map(looks::round_of)
            .take_while(|name| *name != unlocked.round().as_str())
            .collect();
        let rounds = reading.rounds()?.into_iter();
        Ok(rounds
            .filter(|round| before.contains(round.name.as_str()))
            .filter_map(|round| Unlocked::of(round.name, round.state))
            .collect())
    })
}

/// All that an unlocked round yielded, up to its close.
///
/// # Errors
/// [`AppError::Store`] or [`AppError::Unreadable`] if the study cannot be read.
pub fn record(workspace: &Workspace, unlocked: &Unlocked) -> Result<RoundRecord, AppError> {
    workspace
        .store()
        .read(|reading| record_of(reading, unlocked.round()))
}

/// The same of a round whatever its state: for whoever holds a permission of another kind.
pub(super) fn record_of(reading: &Reading<'_>, name: &RoundName) -> Result<RoundRecord, AppError> {
    let round = round::named(reading, name)?;
    let document: serde_json::Value = read_json(&round.document)?;
    let plan: Plan = read_json(&round.plan)?;
    let settings: StudySettings =
        serde_json::from_value(document.get("study").cloned().unwrap_or_default())
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
    let played = in_use(reading.round_tokens(round.id)?);
    let names = names(&played);
    let drawn = drawn::before(reading, &document)?;
    let presentations = presentations(reading.results(round.id)?, &names);
    let began: BTreeSet<_> = presentations
        .iter()
        .map(|row| row.listener.clone())
        .collect();
    let said = reading.said(round.id)?;
    Ok(RoundRecord {
        answers: said::answers(&said, &plan)?,
        sound_checks: said::sound_checks(&reading.sound_checks(round.id)?)?,
        facts: facts(reading, &round, &played, &document, &plan, drawn.as_ref())?,
        settings,
        plan,
        sealed: round.document.clone(),
        tokens: tokens(reading.tokens()?, &played, &names),
        listeners: reading
            .enrolments(round.id)?
            .iter()
            .filter(|enrolment| enrolment.withdrawn_ms.is_none())
            .map(|enrolment| listener(enrolment, &began))
            .collect(),
        presentations,
        missing: missing(reading)?,
        excluded: excluded(reading, &round)?,
        masked: masked::record(reading, &round)?,
        not_random: drawn.as_ref().and_then(|drawn| drawn.not_random.clone()),
        assignment: drawn.and_then(|drawn| drawn.assignment),
    })
}

/// The children of some records in an order that tells nothing of their codes: by digests with the
/// round's salt, which never leaves the study. Whoever was drawn for the study and is in none of the
/// tables comes last, so that the codes of the tables have no gap.
pub(super) fn order_that_tells_nothing(
    workspace: &Workspace,
    unlocked: &Unlocked,
    records: &[RoundRecord],
) -> Result<Vec<ChildCode>, AppError> {
    let round = workspace
        .store()
        .read(|reading| round::named(reading, unlocked.round()))?;
    let mut children = BTreeMap::new();
    let mut place = |code: &str, absent: bool| -> Result<(), AppError> {
        if let Ok(child) = ChildCode::new(code) {
            let value = log::canonical(&serde_json::json!({"child": child}))?;
            let digest = seal::commit(&round.salt, &value);
            children
                .entry(child)
                .and_modify(|(before, _)| *before &= absent)
                .or_insert((absent, digest));
        }
        Ok(())
    };
    for record in records {
        for child in record
            .tokens
            .iter()
            .filter_map(|token| token.key.child.as_ref())
        {
            place(child.as_str(), false)?;
        }
        let missing = record.missing.iter().map(|row| &row.child);
        for child in missing.chain(record.excluded.iter().map(|row| &row.child)) {
            place(child, false)?;
        }
        for child in record.assignment.iter().flat_map(Assignment::children) {
            place(child, true)?;
        }
    }
    let by_digest: BTreeMap<_, _> = children
        .into_iter()
        .map(|(child, place)| (place, child))
        .collect();
    Ok(by_digest.into_values().collect())
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
                link: row.link,
                audio_sha256: token.prepared.sha256,
                seconds: token.prepared.seconds,
                level_lufs: token.prepared.level_lufs,
                gain_db: token.prepared.gain_db,
                snr_db: token.prepared.snr_db,
                bandwidth_hz: token.prepared.bandwidth_hz,
                marks: token.prepared.marks,
            })
        })
        .collect()
}

fn presentations(
    mut rows: Vec<ResultRow>,
    names: &BTreeMap<RoundTokenId, String>,
) -> Vec<PresentationRecord> {
    in_the_order_of_hearing(&mut rows);
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
                aside: (row.aside.map(WhyAside::Said))
                    .or_else(|| row.given_up.then_some(WhyAside::CutShort)),
                revisions: row.revisions,
                rt_ms: row.rt_ms,
                rt_grain_ms: row.rt_grain_ms,
                replays: row.replays,
                voided: row.voided,
                known_speaker: row.known_speaker,
            })
        })
        .collect()
}

/// Practice that comes once more has later places than the words before which it was heard, so the
/// time of the answer decides. A word set aside has none: it stays behind the word before it.
fn in_the_order_of_hearing(rows: &mut [ResultRow]) {
    let mut last: Option<(ListenerCode, u32, i64)> = None;
    let mut heard_ms = BTreeMap::new();
    for row in rows.iter() {
        let before = last
            .as_ref()
            .filter(|(code, sitting, _)| *code == row.listener && *sitting == row.sitting)
            .map_or(i64::MIN, |(_, _, ms)| *ms);
        let ms = row.answered_ms.unwrap_or(before);
        heard_ms.insert((row.listener.clone(), row.sitting, row.place), ms);
        last = Some((row.listener.clone(), row.sitting, ms));
    }
    let listeners: Vec<_> = rows.iter().map(|row| row.listener.clone()).collect();
    let mut number = BTreeMap::new();
    for code in listeners {
        let next = number.len();
        number.entry(code).or_insert(next);
    }
    rows.sort_by_key(|row| {
        let ms = heard_ms.get(&(row.listener.clone(), row.sitting, row.place));
        (
            number.get(&row.listener).copied(),
            row.sitting,
            ms.copied(),
            row.place,
        )
    });
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
        let_go: enrolment.let_go_why.clone(),
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
    drawn: Option<&DrawnBefore>,
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
    let rounds = mentions::mentions(reading, &events, played, head.count)?;
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
        deviations: {
            let of_draw = drawn.map_or_else(Vec::new, |drawn| drawn.deviations(plan));
            let found = deviations::of(&events, round, head.count)?;
            let of_draw = of_draw
                .into_iter()
                .map(|said| DeviationRecord { said, reason: None });
            of_draw.chain(found.iter().map(Deviation::record)).collect()
        },
        known_answers: document
            .get("known_answers")
            .and_then(|counts| serde_json::from_value(counts.clone()).ok()),
        assignments: drawn
            .map(|drawn| drawn.mentions.clone())
            .unwrap_or_default(),
        look: looks::look(&events, &round.name, drawn.map(|drawn| &drawn.row))?,
        withdrawn: reading
            .enrolments(round.id)?
            .iter()
            .filter(|enrolment| enrolment.withdrawn_ms.is_some())
            .count(),
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

/// A time of the store, RFC 3339 in UTC; empty where there is none.
pub(super) fn moment(ms: Option<i64>) -> Result<String, AppError> {
    let Some(ms) = ms else {
        return Ok(String::new());
    };
    jiff::Timestamp::from_millisecond(ms)
        .map(|moment| moment.to_string())
        .map_err(|error| AppError::Unreadable(error.to_string()))
}
