//! Marking unnamed graphs, and finishing: every mark is in the log before the round can be unlocked.

use std::path::Path;

use serde_json::json;

use super::FINISHED;
use super::MARKED;
use super::MaskedState;
use super::graphs_in_use;
use super::mark_digest;
use super::state_of;
use super::under_way;
use super::unnamed;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::files;
use crate::app::log;
use crate::app::round;
use crate::app::secret;
use crate::exchange;
use crate::store::MaskedMarkRow;
use crate::store::MaskedRow;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::Writing;
use crate::study::GraphMark;
use crate::study::RoundName;

/// Reads marks from a table, as `exchange::read_masked_marks` explains it.
///
/// # Errors
/// [`AppError::Input`] with all that is wrong with the table; [`AppError::File`] if it cannot be read.
pub fn read_masked_marks(table: &Path) -> Result<Vec<GraphMark>, AppError> {
    let text = files::read_text(table)?;
    let name = table.display().to_string();
    Ok(exchange::read_masked_marks(&name, text.as_bytes())?)
}

/// Keeps what an analyst says of graphs, all or none; what she said before of the same graph no longer counts. What says the
/// same again is not written. `by`: who does it at the desk, who must be the analyst.
///
/// # Errors
/// [`AppError::Refused`] where no analysis is under way, for anybody else at the desk, and for a graph or a point that is not
/// there.
pub fn mark_masked(
    workspace: &Workspace,
    name: &RoundName,
    marks: &[GraphMark],
    by: Option<&Person>,
    now: Now,
) -> Result<MaskedState, AppError> {
    let (name, marks) = (name.clone(), marks.to_vec());
    let by = by.map(|by| by.code.clone());
    workspace.store().write(move |writing| {
        let (round, row) = open_to(writing, &name, by.as_deref())?;
        check(writing, &round, &row, &marks)?;
        write(writing, &row, &marks, by.as_deref(), now)?;
        state_of(writing, &round)
    })
}

/// The round and its analysis, if it is this person's to go on with.
fn open_to(
    reading: &Reading<'_>,
    name: &RoundName,
    by: Option<&str>,
) -> Result<(RoundRow, MaskedRow), AppError> {
    let round = round::named(reading, name)?;
    let row = under_way(reading, &round)?;
    if by.is_some_and(|by| by != row.analyst) {
        return Err(AppError::refused(
            "this masked analysis is somebody else's",
            "let its analyst go on with it",
        ));
    }
    if row.finished_ms.is_some() {
        return Err(AppError::refused(
            format!("the masked analysis of round {name} is finished"),
            "its marks stand as they are; unlock the round",
        ));
    }
    Ok((round, row))
}

fn check(
    reading: &Reading<'_>,
    round: &RoundRow,
    row: &MaskedRow,
    marks: &[GraphMark],
) -> Result<(), AppError> {
    let graphs = unnamed(reading, round, row)?;
    for said in marks {
        let graph = graphs.iter().find(|graph| graph.number == said.graph);
        let graph = graph.ok_or_else(|| {
            AppError::refused(
                format!("there is no graph {}", said.graph),
                format!("there are {}", graphs.len()),
            )
        })?;
        let points = graph.shares.len();
        let fits = said
            .mark
            .before
            .is_none_or(|before| (2..=points).contains(&(before as usize)));
        if !fits {
            return Err(AppError::refused(
                format!(
                    "graph {} has no point {} before which a change could begin",
                    said.graph,
                    said.mark.before.unwrap_or_default()
                ),
                format!("name a point from 2 to {points}, or say that no change was seen"),
            ));
        }
    }
    Ok(())
}

fn write(
    writing: &Writing<'_>,
    row: &MaskedRow,
    marks: &[GraphMark],
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    let before = graphs_in_use(writing, row)?;
    let (mut rows, mut replaced) = (Vec::new(), Vec::new());
    for said in marks {
        let Some(graph) = before.iter().find(|graph| graph.number == said.graph) else {
            continue;
        };
        if graph.mark.as_ref().is_some_and(|old| old.mark == said.mark) {
            continue;
        }
        replaced.extend(mark_digest(graph)?);
        let mut fresh = graph.clone();
        let new = MaskedMarkRow {
            mark: said.mark,
            marked_ms: now.ms(),
            salt: secret::salt(),
        };
        writing.mark_masked_graph(row.id, said.graph, &new)?;
        fresh.mark = Some(new);
        rows.extend(mark_digest(&fresh)?);
    }
    if !rows.is_empty() {
        rows.sort_unstable();
        replaced.sort_unstable();
        let body = json!({"round": row.round, "rows": rows, "replaced": replaced});
        log::append(writing, now, MARKED, &log::by(body, by))?;
    }
    Ok(())
}

/// Finishes a masked analysis: its marks stand from then on, and the log tells them all once more.
///
/// # Errors
/// [`AppError::Refused`] where none is under way, for anybody else at the desk, and while a graph is not marked.
pub fn finish_masked(
    workspace: &Workspace,
    name: &RoundName,
    by: Option<&Person>,
    now: Now,
) -> Result<MaskedState, AppError> {
    let name = name.clone();
    let by = by.map(|by| by.code.clone());
    workspace.store().write(move |writing| {
        let (round, row) = open_to(writing, &name, by.as_deref())?;
        let graphs = graphs_in_use(writing, &row)?;
        let left = graphs.iter().filter(|graph| graph.mark.is_none()).count();
        if left > 0 {
            return Err(AppError::refused(
                format!("{left} of {} graphs are not marked yet", graphs.len()),
                "mark each, also where no change is to be seen",
            ));
        }
        let mut marks = Vec::new();
        for graph in &graphs {
            marks.extend(mark_digest(graph)?);
        }
        marks.sort_unstable();
        writing.finish_masked(row.id, now.ms())?;
        let body = json!({"round": name, "marks": marks});
        log::append(writing, now, FINISHED, &log::by(body, by.as_deref()))?;
        state_of(writing, &round)
    })
}
