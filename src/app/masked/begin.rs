//! Beginning a masked analysis: who may, and the order of the graphs.

use std::collections::BTreeSet;

use serde_json::Value;
use serde_json::json;

use super::BEGUN;
use super::MaskedState;
use super::graph_digest;
use super::is_planned;
use super::not_closed;
use super::of_round;
use super::state_of;
use crate::analysis;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::consent;
use crate::app::findings;
use crate::app::hear;
use crate::app::log;
use crate::app::looks;
use crate::app::results;
use crate::app::round;
use crate::app::secret;
use crate::blinding::Seed;
use crate::seal::Digest;
use crate::store::EventRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::Masked;
use crate::study::Role;
use crate::study::RoundName;
use crate::study::RoundState;

/// Begins the masked analysis of a closed round: draws the order of the graphs and logs it. From then on `analyst`, the code
/// of a researcher's account, may see them. `by`: who does it at the desk.
///
/// # Errors
/// [`AppError::Refused`] if the round is not closed, has an analysis already or no graph to judge, and for an analyst who is
/// no researcher or who has seen results of the same children.
pub fn begin_masked(
    workspace: &Workspace,
    name: &RoundName,
    analyst: &str,
    by: Option<&Person>,
    now: Now,
) -> Result<MaskedState, AppError> {
    let (name, analyst) = (name.clone(), analyst.to_owned());
    let by = by.map(|by| by.code.clone());
    workspace.store().write(move |writing| {
        let round = round::named(writing, &name)?;
        if round.state != RoundState::Closed {
            return Err(not_closed(&round));
        }
        if of_round(writing, &name)?.is_some() {
            return Err(AppError::refused(
                format!("round {name} has a masked analysis already"),
                "there is one a round, by one analyst: go on with it",
            ));
        }
        check_analyst(writing, &round, &analyst)?;
        write(writing, &round, &analyst, by.as_deref(), now)?;
        state_of(writing, &round)
    })
}

/// Writes the analysis with its graphs in the order that is drawn, and logs it.
fn write(
    writing: &Writing<'_>,
    round: &RoundRow,
    analyst: &str,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    let seed = secret::seed();
    let id = writing.begin_masked(round.id, analyst, &seed, now.ms())?;
    let mut children = children_with_graphs(writing, round)?;
    Seed::new(seed).graphs().shuffle(&mut children);
    for (number, code) in (1..).zip(&children) {
        let child = consent::child_of(writing, code)?;
        writing.add_masked_graph(id, number, child, &secret::salt())?;
    }
    let mut rows = Vec::new();
    for graph in writing.masked_graphs()? {
        if graph.analysis == id {
            rows.push(graph_digest(&graph)?);
        }
    }
    rows.sort_unstable();
    let body = json!({
        "round": round.name,
        "analyst": analyst,
        "seed_sha256": Digest::of(&seed),
        "planned": is_planned(round)?,
        "rows": rows,
    });
    log::append(writing, now, BEGUN, &log::by(body, by))?;
    Ok(())
}

/// The children whose graphs there are, in the order of their codes.
fn children_with_graphs(
    reading: &Reading<'_>,
    round: &RoundRow,
) -> Result<Vec<ChildCode>, AppError> {
    let masked =
        Masked::of(round.name.clone(), round.state, true).ok_or_else(|| not_closed(round))?;
    let record = results::record_of(reading, masked.round())?;
    let tables = findings::tables_of(&record)?;
    let unreadable = |refusal: &dyn std::fmt::Display| AppError::Unreadable(refusal.to_string());
    let points =
        analysis::masked_points(&masked, &record, &tables).map_err(|error| unreadable(&error))?;
    if points.is_empty() {
        return Err(AppError::refused(
            format!("round {} has no child with two judged sessions", round.name),
            "there is no graph in which a change could be seen",
        ));
    }
    let codes = points.keys();
    codes
        .map(|code| ChildCode::new(code).map_err(|error| unreadable(&error)))
        .collect()
}

fn check_analyst(reading: &Reading<'_>, round: &RoundRow, analyst: &str) -> Result<(), AppError> {
    let account = reading.account_coded(analyst)?.ok_or_else(|| {
        AppError::refused(
            "the analyst has no account here",
            "`fairhearing account list` tells which there are",
        )
    })?;
    if account.role != Role::Researcher {
        return Err(AppError::refused(
            format!("{} is a {}", account.name, account.role),
            "only a researcher may look at the levels of a round that is not unlocked",
        ));
    }
    if let Some(other) = seen(reading, round, analyst)? {
        return Err(AppError::refused(
            format!(
                "{} has seen results of the same children, in round {other}",
                account.name
            ),
            "let somebody judge who has not",
        ));
    }
    Ok(())
}

/// The round by which somebody has seen results of the same children, as far as the log tells: by unlocking it, by hearing its
/// words, or by a download after it was unlocked.
fn seen(
    reading: &Reading<'_>,
    round: &RoundRow,
    analyst: &str,
) -> Result<Option<RoundName>, AppError> {
    let own = children_of(reading, round)?;
    let events = reading.events()?;
    for other in reading.rounds()? {
        let Some(unlocked_ms) = other.unlocked_ms else {
            continue;
        };
        if own.is_disjoint(&children_of(reading, &other)?) {
            continue;
        }
        let saw = |row: &&EventRow| match row.event.kind.as_str() {
            looks::UNLOCKED | hear::HEARD => {
                looks::round_of(row).as_deref() == Some(other.name.as_str())
            }
            "copy made" => row.event.at_utc_ms >= unlocked_ms,
            _ => false,
        };
        if events.iter().filter(saw).any(|row| is_by(row, analyst)) {
            return Ok(Some(other.name));
        }
    }
    Ok(None)
}

fn is_by(row: &EventRow, code: &str) -> bool {
    let body: Option<Value> = serde_json::from_str(row.event.body.as_str()).ok();
    body.is_some_and(|body| body.get("by").and_then(Value::as_str) == Some(code))
}

/// The children whose words a round scores.
fn children_of(reading: &Reading<'_>, round: &RoundRow) -> Result<BTreeSet<ChildCode>, AppError> {
    let played: BTreeSet<_> = reading
        .round_tokens(round.id)?
        .iter()
        .map(|token| token.token)
        .collect();
    let tokens = reading.tokens()?.into_iter();
    Ok(tokens
        .filter(|token| played.contains(&token.id) && token.key.use_.is_scored())
        .filter_map(|token| token.key.child)
        .collect())
}
