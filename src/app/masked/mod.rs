//! Masked visual analysis of a closed round: an analyst sees unnamed graphs and marks where changes began, all in the log,
//! before the round is unlocked.
//!
//! The graphs show levels over sessions, whose ones nobody can tell from them: to look at them is an act of its own, logged,
//! and shown to its analyst alone.

mod begin;
mod mark;
mod record;

pub use begin::begin_masked;
pub use mark::finish_masked;
pub use mark::mark_masked;
pub use mark::read_masked_marks;

pub(super) use record::left_open;
pub(super) use record::record;

use serde_json::json;

use super::AppError;
use super::Workspace;
use super::consent;
use super::findings;
use super::log;
use super::results;
use super::results::moment;
use super::round;
use crate::analysis;
use crate::seal;
use crate::seal::Digest;
use crate::store::MaskedGraphRow;
use crate::store::MaskedRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::study::Masked;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::UnnamedGraph;

/// The name of the event that begins a masked analysis.
pub(super) const BEGUN: &str = "masked analysis begun";

/// The name of the event of marks.
pub(super) const MARKED: &str = "masked marks";

/// The name of the event that finishes a masked analysis.
pub(super) const FINISHED: &str = "masked analysis finished";

/// Where the masked analysis of a round stands: nothing in it tells an outcome.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct MaskedState {
    /// The round.
    pub round: RoundName,
    /// Its seal.
    pub seal: String,
    /// How far the round has come.
    pub state: RoundState,
    /// Whether the sealed plan asks for a masked analysis.
    pub planned: bool,
    /// The analysis, where one was begun.
    pub begun: Option<MaskedBegun>,
}

/// A masked analysis that was begun.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct MaskedBegun {
    /// The code of the analyst's account.
    pub analyst: String,
    /// The name of that account, where it is still there.
    pub name: Option<String>,
    /// When it was begun, RFC 3339 in UTC.
    pub at: String,
    /// Whether it is finished.
    pub finished: bool,
    /// Graphs that are marked.
    pub marked: usize,
    /// Graphs there are.
    pub graphs: usize,
}

impl MaskedState {
    /// What unlocking now would leave undone; nothing where that is nothing.
    pub fn left_open(&self) -> Option<String> {
        match &self.begun {
            Some(begun) if !begun.finished => Some(format!(
                "The masked analysis of this round is not finished: {} of {} graphs are marked. Once the round is unlocked no \
                 mark can be added, and no masked p is computed",
                begun.marked, begun.graphs
            )),
            None if self.planned => Some(
                "The sealed plan asks for a masked analysis, and none was begun. Once the round is unlocked there can be none"
                    .to_owned(),
            ),
            _ => None,
        }
    }
}

/// Where the masked analysis of a round stands.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round.
pub fn masked_state(workspace: &Workspace, name: &RoundName) -> Result<MaskedState, AppError> {
    workspace.store().read(|reading| {
        let round = round::named(reading, name)?;
        state_of(reading, &round)
    })
}

fn state_of(reading: &Reading<'_>, round: &RoundRow) -> Result<MaskedState, AppError> {
    let begun = of_round(reading, &round.name)?
        .map(|row| {
            let graphs = graphs_in_use(reading, &row)?;
            Ok::<_, AppError>(MaskedBegun {
                name: reading
                    .account_coded(&row.analyst)?
                    .map(|account| account.name.to_string()),
                at: moment(Some(row.begun_ms))?,
                finished: row.finished_ms.is_some(),
                marked: graphs.iter().filter(|graph| graph.mark.is_some()).count(),
                graphs: graphs.len(),
                analyst: row.analyst,
            })
        })
        .transpose()?;
    Ok(MaskedState {
        round: round.name.clone(),
        seal: round.seal.clone(),
        state: round.state,
        planned: is_planned(round)?,
        begun,
    })
}

/// The unnamed graphs of a closed round, for its analyst alone. `analyst`: the code of her account.
///
/// # Errors
/// [`AppError::Refused`] where no masked analysis was begun, for anybody else, and once the round is unlocked.
pub fn masked_graphs(
    workspace: &Workspace,
    name: &RoundName,
    analyst: &str,
) -> Result<Vec<UnnamedGraph>, AppError> {
    workspace.store().read(|reading| {
        let round = round::named(reading, name)?;
        let row = under_way(reading, &round)?;
        if row.analyst != analyst {
            return Err(AppError::refused(
                "these graphs are for the analyst who began the masked analysis",
                "ask her for nothing but that she finishes",
            ));
        }
        unnamed(reading, &round, &row)
    })
}

/// The graphs as the analyst sees them.
fn unnamed(
    reading: &Reading<'_>,
    round: &RoundRow,
    row: &MaskedRow,
) -> Result<Vec<UnnamedGraph>, AppError> {
    let masked =
        Masked::of(round.name.clone(), round.state, true).ok_or_else(|| not_closed(round))?;
    let record = results::record_of(reading, masked.round())?;
    let tables = findings::tables_of(&record)?;
    let mut points = analysis::masked_points(&masked, &record, &tables)
        .map_err(|refusal| AppError::Unreadable(refusal.to_string()))?;
    let graphs = graphs_in_use(reading, row)?.into_iter();
    Ok(graphs
        .filter_map(|graph| {
            Some(UnnamedGraph {
                number: graph.number,
                shares: points.remove(graph.code.as_str())?,
                mark: graph.mark.map(|mark| mark.mark),
            })
        })
        .collect())
}

/// The masked analysis of a round that can still be gone on with.
fn under_way(reading: &Reading<'_>, round: &RoundRow) -> Result<MaskedRow, AppError> {
    if round.state != RoundState::Closed {
        return Err(not_closed(round));
    }
    of_round(reading, &round.name)?.ok_or_else(|| {
        AppError::refused(
            format!("no masked analysis of round {} was begun", round.name),
            "begin one, between the close and unlocking",
        )
    })
}

fn not_closed(round: &RoundRow) -> AppError {
    AppError::refused(
        format!("round {} is {}", round.name, round.state),
        "a masked analysis has its place after the close and before unlocking",
    )
}

fn of_round(reading: &Reading<'_>, round: &RoundName) -> Result<Option<MaskedRow>, AppError> {
    let rows = reading.masked_analyses()?.into_iter();
    Ok(rows.into_iter().find(|row| row.round == *round))
}

/// The graphs of an analysis, without those of children who are out of use.
fn graphs_in_use(reading: &Reading<'_>, row: &MaskedRow) -> Result<Vec<MaskedGraphRow>, AppError> {
    let stopped = consent::stopped(reading)?;
    let graphs = reading.masked_graphs()?.into_iter();
    Ok(graphs
        .filter(|graph| graph.analysis == row.id && !stopped.contains(&graph.code))
        .collect())
}

fn is_planned(round: &RoundRow) -> Result<bool, AppError> {
    let plan: Plan = serde_json::from_str(&round.plan)
        .map_err(|error| AppError::Unreadable(error.to_string()))?;
    Ok(plan.masked_analysis.planned)
}

/// What the log says of which child stands behind a graph.
pub(super) fn graph_digest(row: &MaskedGraphRow) -> Result<Digest, AppError> {
    let value = json!({"round": row.round, "graph": row.number, "child": row.code});
    Ok(seal::commit(&row.salt, &log::canonical(&value)?))
}

/// What the log says of what was seen in a graph; nothing where it is not marked.
pub(super) fn mark_digest(row: &MaskedGraphRow) -> Result<Option<Digest>, AppError> {
    let Some(said) = &row.mark else {
        return Ok(None);
    };
    let value = json!({
        "round": row.round,
        "graph": row.number,
        "before": said.mark.before,
        "sure": said.mark.sure,
    });
    Ok(Some(seal::commit(&said.salt, &log::canonical(&value)?)))
}
