//! Reporting guidelines, filled from the data; what only the authors know stays blank.

use super::super::number::coefficient;
use super::super::number::counted;
use super::super::number::limits;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::field;
use super::words;
use crate::analysis::RoundFindings;
use crate::analysis::Words;
use crate::study::Phase;

const COLUMNS: [Column; 3] = [
    words(
        "Item",
        &[field("item", "number of the item", "", "1, 2, …")],
    ),
    words(
        "To report",
        &[field("to_report", "what the item asks for", "", "words")],
    ),
    words(
        "From this round",
        &[field(
            "from_this_round",
            "what the data say; empty: for the authors to write",
            "",
            "a sentence",
        )],
    ),
];

/// Shown where the authors must write.
const BLANK: &str = "_____ (for the authors)";

/// The fifteen items on studies of reliability and agreement.
pub fn grras(found: &RoundFindings) -> Table {
    let agreement = &found.agreement;
    let alpha = &agreement.krippendorff_alpha;
    let plan = &found.plan;
    let items = [
        ("that reliability or agreement was studied, in title or abstract", String::new()),
        ("what was measured, and how", format!(
            "Each word of the target ({}) judged correct or distorted.", found.study.target
        )),
        ("the children and words of interest", String::new()),
        ("the raters of interest", format!("{} listeners.", plan.listeners.kind)),
        ("what is known of reliability so far, and why it was studied", String::new()),
        ("how the numbers of children, words and raters were chosen", format!(
            "Planned and sealed: {} a word, {} invited.",
            counted(plan.listeners.judgements_per_token as usize, "judgement"),
            plan.listeners.invited,
        )),
        ("how children, words and raters were sampled", String::new()),
        ("how it was done: interval, information available, blinding", format!(
            "Blind to child, session, phase, cohort and date; a word at a time, in a random order for each listener; up to {} allowed. See the table of blinding.",
            counted(plan.sitting.replays as usize, "replay"),
        )),
        ("whether ratings were independent", "Each listener judged alone, in her own order, and saw nobody's answers.".to_owned()),
        ("the statistics", "Percent and specific agreement, Krippendorff's alpha, Gwet's AC1, kappas and intraclass correlations, with intervals; see the methods.".to_owned()),
        ("how many were rated by how many, in fact", format!(
            "{} of {} by {}.",
            counted(agreement.values, "judgement"),
            counted(agreement.items, "word"),
            counted(agreement.raters, "listener"),
        )),
        ("who the raters and children were", String::new()),
        ("the estimates with their uncertainty", format!(
            "Krippendorff's alpha {} ({}); further in the tables of agreement.",
            coefficient(alpha.estimate), limits(alpha.ci),
        )),
        ("what the results mean in practice", String::new()),
        ("detailed results, where they can be had", "Every judgement and every table lies in the folder of this report.".to_owned()),
    ];
    list(
        "reporting_grras",
        "Guidelines for Reporting Reliability and Agreement Studies (GRRAS, Kottner and others 2011), in our words.",
        &items,
    )
}

/// The twenty-six items on single-case studies.
pub fn scribe(found: &RoundFindings) -> Table {
    let contrast = &found.plan.contrast;
    let phases: Vec<&str> = found.study.phases.iter().map(Phase::as_str).collect();
    let drawn = match found.round.assignments.len() {
        0 => "Nothing was drawn and sealed before this round: nothing is called random.".to_owned(),
        n => format!(
            "{} drawn and sealed; see the section on the seal.",
            counted(n, "assignment")
        ),
    };
    let items = [
        ("title: that it is a single-case study", String::new()),
        ("abstract", String::new()),
        ("background", String::new()),
        ("aims", String::new()),
        (
            "design: its kind, its phases, how phase changes were decided",
            format!(
                "Phases: {}. Whether they were fixed beforehand: {BLANK}.",
                phases.join(", ")
            ),
        ),
        (
            "changes of procedure",
            match found.round.deviations.len() {
                0 => "The log tells of none after the seal.".to_owned(),
                n => format!(
                    "{} after the seal, listed with their times.",
                    counted(n, "deviation")
                ),
            },
        ),
        ("replication", replication(found)),
        ("randomisation", drawn),
        ("blinding", "By role in the table of blinding.".to_owned()),
        ("how participants were selected", String::new()),
        ("who they are, unnamed", String::new()),
        ("setting", String::new()),
        ("ethics", String::new()),
        (
            "measures: what, how, how reliably",
            format!(
                "Share of judgements correct of {}; agreement in tables by phase and child.",
                found.study.target
            ),
        ),
        ("equipment", String::new()),
        ("the intervention", String::new()),
        ("how faithfully it was given", String::new()),
        (
            "analyses",
            format!(
                "Sealed beforehand: {} with {}, smallest change that matters {}%.",
                contrast.from,
                contrast.to,
                (contrast.smallest_change.get() * 100.0).round(),
            ),
        ),
        (
            "the sequence that each participant completed",
            "Sessions and phases of each child in her table and graph.".to_owned(),
        ),
        (
            "outcomes for each participant, raw data too",
            "Each session of each child with its interval; every judgement in ratings.csv."
                .to_owned(),
        ),
        ("adverse events", String::new()),
        ("interpretation", String::new()),
        (
            "limits",
            match found.warnings.len() {
                0 => "No rule of this report warns of anything.".to_owned(),
                n => format!(
                    "{} by stated rules; what else: {BLANK}.",
                    counted(n, "warning")
                ),
            },
        ),
        ("to whom it applies", String::new()),
        (
            "protocol",
            format!("Sealed plan, SHA-256 {}.", found.round.seal),
        ),
        ("funding and interests", String::new()),
    ];
    list(
        "reporting_scribe",
        "Single-Case Reporting guideline In BEhavioural interventions (SCRIBE 2016), in our words.",
        &items,
    )
}

fn replication(found: &RoundFindings) -> String {
    let changes = found.outcome.changes.iter();
    match changes.filter(|change| change.words == Words::All).count() {
        1 => "1 child with both phases.".to_owned(),
        n => format!("{n} children with both phases."),
    }
}

fn list(name: &'static str, caption: &str, items: &[(&str, String)]) -> Table {
    let rows = items.iter().zip(1..).map(|((asked, said), number)| {
        let shown = if said.is_empty() { BLANK } else { said };
        vec![
            Cell::count(number),
            Cell::words(*asked),
            Cell::term(said.clone(), shown),
        ]
    });
    Table {
        name,
        caption: caption.to_owned(),
        columns: COLUMNS.to_vec(),
        rows: rows.collect(),
        notes: Vec::new(),
    }
}
