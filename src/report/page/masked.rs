//! Masked visual analysis in the report: what was done, and what it came to.

use super::super::number;
use super::super::table::Table;
use super::super::tables;
use crate::analysis::MaskedFinding;
use crate::analysis::RoundFindings;

/// The part of the page, where there is one.
pub(super) struct MaskedPart {
    /// What was done.
    pub(super) done: String,
    /// What it came to.
    pub(super) came_to: String,
    /// Each graph.
    pub(super) graphs: Table,
    /// The agreement in figures.
    pub(super) test: Table,
}

impl MaskedPart {
    pub(super) fn of(found: &RoundFindings) -> Option<Self> {
        let masked = found.masked.as_ref()?;
        Some(Self {
            done: done(masked, found.plan.masked_analysis.planned),
            came_to: came_to(masked),
            graphs: tables::masked(masked),
            test: tables::masked_test(masked),
        })
    }
}

fn done(found: &MaskedFinding, planned: bool) -> String {
    let end = match &found.finished {
        Some(when) => format!(
            "finished {}, before the round was unlocked",
            number::minute(when)
        ),
        None => "not finished before the round was unlocked".to_owned(),
    };
    let planned = if planned {
        "It was planned and sealed."
    } else {
        "It was not planned."
    };
    format!(
        "One analyst ({}) saw {} in an order that was drawn, without names, phases, dates, intervals or the start of treatment, \
         and marked where a change began: begun {}, {end}. {planned}",
        found.analyst,
        number::counted(found.graphs.len(), "graph"),
        number::minute(&found.begun),
    )
}

fn came_to(found: &MaskedFinding) -> String {
    let agreed = format!(
        "Of {}, {} met the real start and {} came within one session of it.",
        number::counted(found.marked, "mark"),
        number::count(found.exact),
        number::count(found.within_one),
    );
    let Some(p) = found.p else {
        let why = found.reasons.of("p").unwrap_or("it cannot be computed");
        return format!("{agreed} No masked p: {why}.");
    };
    let listed = if found.draws_listed == Some(false) {
        "sampled"
    } else {
        "all listed"
    };
    let left_out = found
        .reasons
        .of("p.cases")
        .map_or_else(String::new, |said| format!(" Cases {said}."));
    format!(
        "{agreed} Summed over the graphs whose start was drawn, the marks miss it by {}. Of the {} draws that were possible \
         ({listed}), a share of {} is missed by no more: that is the masked p. The smallest that this design could give is {}.\
         {left_out}",
        number::counted(found.missed_by.unwrap_or_default(), "point"),
        number::maybe(found.draws, 0),
        number::p_value(Some(p)),
        number::p_value(found.smallest_p),
    )
}
