//! The tables of a report, each for the page and for its file.

mod agreement;
mod blinding;
mod changes;
mod conditions;
mod design;
mod ear;
mod flow;
mod listeners;
mod lists;
mod masked;
mod measures;
mod missing;
mod reference;
mod reporting;
mod rounds;
mod sensitivity;
mod sessions;
mod tokens;
mod warnings;
mod word_sets;

pub use agreement::agreement;
pub use agreement::agreement_by;
pub use agreement::intraclass;
pub use agreement::pairs;
pub use blinding::blinding;
pub use changes::changes;
pub use changes::cohorts;
pub use changes::panels;
pub(super) use changes::too_few_children;
pub(super) use changes::verdict;
pub(super) use changes::verdict_words;
pub use conditions::conditions;
pub use design::design;
pub(super) use design::met;
pub use ear::own_ear;
pub use flow::flow;
pub use listeners::listeners;
pub use listeners::rules;
pub use lists::lists;
pub use lists::unequal_lists;
pub use masked::masked;
pub use masked::masked_test;
pub use measures::measures;
pub use measures::ratios;
pub use missing::completeness;
pub use reference::reference;
pub use reporting::grras;
pub use reporting::scribe;
pub use rounds::links;
pub use rounds::panels_of_rounds;
pub use rounds::placed_changes;
pub use rounds::placed_sessions;
pub(super) use sensitivity::read_as;
pub use sensitivity::sensitivity;
pub use sessions::sessions;
pub use tokens::consensus;
pub use tokens::contested;
pub use tokens::missing;
pub use tokens::recordings;
pub use tokens::set_aside;
pub use warnings::warnings;
pub use word_sets::word_sets;

use super::table::Align;
use super::table::Column;
use super::table::Field;
use super::table::Table;
use crate::analysis::Reasons;
use crate::analysis::RoundFindings;
use crate::analysis::Words;

/// Every table of a round, each a file.
pub fn all(found: &RoundFindings) -> Vec<Table> {
    let (outcome, tokens) = (&found.outcome, &found.tokens);
    let over_rounds = found.over_rounds.iter();
    let over_rounds = over_rounds.flat_map(|found| {
        [
            panels_of_rounds(found),
            links(found),
            placed_sessions(found),
            placed_changes(found),
        ]
    });
    let ear = found.own_ear.iter().map(own_ear);
    let marks = found.masked.iter();
    let marks = marks.flat_map(|found| [masked(found), masked_test(found)]);
    let own = vec![
        completeness(&found.completeness),
        unequal_lists(outcome),
        conditions(outcome),
        word_sets(outcome),
        lists(&found.lists),
        sessions(outcome.sessions.iter()),
        changes(outcome.changes.iter()),
        measures(outcome.changes.iter()),
        ratios(outcome.changes.iter()),
        cohorts(&outcome.cohorts),
        panels(outcome),
        sensitivity(found.sensitivity.iter()),
        warnings(&found.warnings),
        design(found.design.iter()),
        flow(found),
        blinding(found),
        grras(found),
        scribe(found),
        agreement(&found.agreement),
        agreement_by(&found.agreement),
        pairs(&found.agreement),
        intraclass(&found.agreement),
        reference(found.reference.as_deref()),
        listeners(&found.listeners),
        rules(&found.listeners),
        consensus(&found.consensus, tokens),
        missing(&found.missing, &found.excluded, &found.study.phases),
        set_aside(&found.record, tokens),
        recordings(&found.record, tokens),
    ];
    own.into_iter()
        .chain(ear)
        .chain(over_rounds)
        .chain(marks)
        .collect()
}

const fn words(head: &'static str, fields: &'static [Field]) -> Column {
    Column {
        head,
        align: Align::Words,
        fields,
    }
}

const fn number(head: &'static str, fields: &'static [Field]) -> Column {
    Column {
        head,
        align: Align::Number,
        fields,
    }
}

const fn field(
    name: &'static str,
    meaning: &'static str,
    unit: &'static str,
    allowed: &'static str,
) -> Field {
    Field {
        name,
        meaning,
        unit,
        allowed,
    }
}

const SHARE: &str = "0 to 1";
const DIFFERENCE: &str = "-1 to 1";
const COUNT: &str = "0, 1, 2, …";

const CHILD: Column = words(
    "Child",
    &[field(
        "child",
        "the child's code",
        "",
        "a code of the study",
    )],
);

const SESSION: Column = number(
    "Session",
    &[field(
        "session",
        "recording occasion of the child, counted from 1",
        "",
        COUNT,
    )],
);

const PHASE: Column = words(
    "Phase",
    &[field(
        "phase",
        "phase of the session",
        "",
        "a phase of the study",
    )],
);

const WORDS: Column = words(
    "Words",
    &[field(
        "words",
        "which words count",
        "",
        "all, treated, untreated",
    )],
);

const DIFFERENCE_OF_MEANS: Column = number(
    "Difference, points",
    &[field(
        "difference",
        "later mean less earlier mean",
        "share of 1",
        DIFFERENCE,
    )],
);

const INTERVAL_OF_DIFFERENCE: Column = number(
    "Interval",
    &[
        field("ci_low", "lower limit", "share of 1", DIFFERENCE),
        field("ci_high", "upper limit", "share of 1", DIFFERENCE),
    ],
);

const VERDICT: Column = words(
    "Verdict",
    &[field(
        "verdict",
        "by the rule table",
        "",
        "improved, declined, no_relevant_change, cannot_tell",
    )],
);

/// What a file calls a set of words, and what a page calls it.
pub(super) const fn word_set(words: Words) -> (&'static str, &'static str) {
    match words {
        Words::All => ("all", "all"),
        Words::Treated => ("treated", "treated"),
        Words::Untreated => ("untreated", "untreated"),
    }
}

/// Reasons as notes: each once, in their order, with whom it concerns.
fn notes<'a>(reasons: impl Iterator<Item = (String, &'a Reasons)>) -> Vec<String> {
    let mut said: Vec<(String, Vec<String>)> = Vec::new();
    for (whom, reasons) in reasons {
        for (field, reason) in reasons.iter() {
            let text = format!("{}: {reason}", plain(field));
            match said.iter_mut().find(|(known, _)| *known == text) {
                Some((_, concerned)) if !concerned.contains(&whom) => concerned.push(whom.clone()),
                Some(_) => {}
                None => said.push((text, vec![whom.clone()])),
            }
        }
    }
    said.into_iter()
        .map(|(text, concerned)| {
            let concerned: Vec<String> = concerned.into_iter().filter(|w| !w.is_empty()).collect();
            if concerned.is_empty() {
                format!("{text}.")
            } else {
                format!("{text} ({}).", concerned.join(", "))
            }
        })
        .collect()
}

/// A field's name as words; what stands before the first full stop is the field, what follows belongs to it.
fn plain(field: &str) -> String {
    let (field, part) = field.split_once('.').unwrap_or((field, ""));
    let name = match field {
        "ci" => "interval",
        "ci_these_days" => "interval between these recordings",
        "consensus_ci" => "interval of the consensus",
        "mdc95" => "minimal detectable change",
        "nap" => "NAP",
        "tau" => "Tau",
        "tau_u" => "Tau-U",
        "pnd" => "PND",
        "smd" => "difference in standard deviations",
        "smd_pooled" => "difference in pooled standard deviations",
        "gwet_ac1" => "Gwet's AC1",
        "fleiss_kappa" => "Fleiss' kappa",
        "krippendorff_alpha" => "Krippendorff's alpha",
        "cohen_kappa" => "Cohen's kappa",
        "conger_kappa" => "Conger's kappa",
        "brennan_prediger" => "Brennan–Prediger",
        "icc" => "intraclass correlation",
        "cochran_q" => "Cochran's Q",
        "lag1_autocorrelation" => "autocorrelation of neighbouring sessions",
        other => return [other.replace('_', " "), suffix(part)].concat(),
    };
    [name.to_owned(), suffix(part)].concat()
}

fn suffix(part: &str) -> String {
    match part {
        "" => String::new(),
        "ci" => " (interval)".to_owned(),
        "ci_both" => " (interval for listeners like these)".to_owned(),
        "ci_resampled" => " (resampled interval)".to_owned(),
        "se" => " (standard error)".to_owned(),
        "narrow" => " (interval too narrow)".to_owned(),
        other => format!(" ({})", other.replace('_', " ")),
    }
}
