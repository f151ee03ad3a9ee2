//! The table in which an analyst says where she saw changes in unnamed graphs.

use std::collections::BTreeSet;
use std::io::Read;

use super::export::Table;
use super::sheet::Notes;
use super::sheet::Row;
use super::sheet::Sheet;
use crate::study::GraphMark;
use crate::study::Invalid;
use crate::study::MaskedMark;
use crate::study::Problems;
use crate::study::Sureness;
use crate::study::UnnamedGraph;

/// What stands in `before` where no change was seen.
const NO_CHANGE: &str = "none";

/// The table to fill in: `graph,points,before,sure`, with what was said so far.
pub fn write_masked_marks(graphs: &[UnnamedGraph]) -> Vec<u8> {
    let mut table = Table::new(&["graph", "points", "before", "sure"]);
    for graph in graphs {
        let before = graph.mark.map(|mark| match mark.before {
            Some(point) => point.to_string(),
            None => NO_CHANGE.to_owned(),
        });
        let sure = graph.mark.map(|mark| mark.sure.to_string());
        table.row(&[
            graph.number.to_string(),
            graph.shares.len().to_string(),
            before.unwrap_or_default(),
            sure.unwrap_or_default(),
        ]);
    }
    table.finish()
}

/// What its columns mean.
pub fn write_marks_dictionary() -> Vec<u8> {
    let mut table = Table::new(&["column", "meaning", "allowed"]);
    for row in [
        ["graph", "the number of the graph", "as it was written"],
        ["points", "how many points it has", "as it was written"],
        [
            "before",
            "the first point after the change that you see",
            "2, 3, … or none",
        ],
        ["sure", "how sure you are", "certain, probable, guess"],
    ] {
        table.row(&row.map(str::to_owned));
    }
    table.finish()
}

/// Reads marks: `graph,before,sure`. `before`: the first point after the change, or `none`; `sure`: certain, probable or guess.
/// A row without either was not judged yet and is left out.
///
/// # Errors
/// All that is wrong, each with its line, its column and how to mend it.
pub fn read_masked_marks(name: &str, source: impl Read) -> Result<Vec<GraphMark>, Problems> {
    let mut sheet = Sheet::open(name, source)?;
    let columns = ["graph", "before", "sure"].map(|column| sheet.required(&[column]));
    let mut marks = Vec::new();
    let mut seen = BTreeSet::new();
    sheet.read_rows(|row, notes| {
        let Some(said) = mark_of(row, columns, notes) else {
            return;
        };
        if seen.insert(said.graph) {
            marks.push(said);
        } else {
            notes.say("graph", "this graph has a row already", "keep one of them");
        }
    })?;
    Ok(marks)
}

fn mark_of(row: &Row<'_>, columns: [usize; 3], notes: &mut Notes<'_>) -> Option<GraphMark> {
    let [graph, before, sure] = columns.map(|column| row.text(Some(column)));
    if before.is_none() && sure.is_none() {
        return None;
    }
    let graph = graph.and_then(|raw| raw.parse().ok());
    if graph.is_none() {
        notes.say(
            "graph",
            "is no number of a graph",
            "leave it as it was written",
        );
    }
    let before = match before {
        Some(NO_CHANGE) => Some(None),
        raw => raw.and_then(|raw| raw.parse().ok()).map(Some),
    };
    if before.is_none() {
        notes.say(
            "before",
            "is no point",
            "write the number of the first point after the change, or none",
        );
    }
    let sure = match sure.unwrap_or_default().parse::<Sureness>() {
        Ok(sure) => Some(sure),
        Err(Invalid { what, mend }) => {
            notes.say("sure", what, mend);
            None
        }
    };
    Some(GraphMark {
        graph: graph?,
        mark: MaskedMark {
            before: before?,
            sure: sure?,
        },
    })
}
