//! Who knew what, by role: built from the plan and from what the round recorded.

use super::super::number::counted;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::field;
use super::words;
use crate::analysis::RoundFindings;

const COLUMNS: [Column; 3] = [
    words("Role", &[field("role", "who", "", "a role")]),
    words(
        "Knew",
        &[field("knew", "what this role could know", "", "a sentence")],
    ),
    words(
        "How that was kept",
        &[field(
            "kept",
            "by what it was kept, and what was found of it",
            "",
            "a sentence",
        )],
    ),
];

/// One row a role.
pub fn blinding(found: &RoundFindings) -> Table {
    let roles: [(&str, &str, String); 5] = [
        (
            "listeners",
            "The word and the sound to judge; neither child, session, phase, cohort nor date.",
            listeners(found),
        ),
        (
            "whoever prepared the recordings",
            "Child, session and phase, as the manifest names them.",
            preparer(found),
        ),
        (
            "researcher",
            "Progress and the quality of listeners while the round was open; no outcome.",
            researcher(found),
        ),
        (
            "analyst",
            "All labels, once the round was closed and unlocked.",
            "Comparison, screening and analysis were sealed before the first listener; the program computed all figures by them."
                .to_owned(),
        ),
        ("treating clinician", "Child and treatment.", clinician(found)),
    ];
    let rows = roles
        .map(|(role, knew, kept)| vec![Cell::words(role), Cell::words(knew), Cell::words(kept)]);
    Table {
        name: "blinding",
        caption: "Who knew what.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: rows.to_vec(),
        notes: vec![
            "What families, and people outside the study's folder, knew is for the authors to say."
                .to_owned(),
        ],
    }
}

fn listeners(found: &RoundFindings) -> String {
    let answered = |question: &str, blind: &str| {
        let answers = found.record.answers.iter();
        let asked = answers.filter(|one| one.question == question);
        let (blind, others): (Vec<_>, Vec<_>) = asked.partition(|one| one.answer == blind);
        (blind.len() + others.len(), others.len())
    };
    let (asked, could) = answered("told-early-from-late", "no");
    let told = if asked == 0 {
        "No listener answered whether she could tell early from late.".to_owned()
    } else {
        format!(
            "Of {} who were asked at the end, {could} could tell early from late, often or sometimes.",
            counted(asked, "listener")
        )
    };
    let (asked, knew) = answered("knew-a-voice", "no");
    let voices = if asked == 0 {
        String::new()
    } else {
        format!(" {knew} of {asked} knew a voice.")
    };
    format!(
        "Each sound came under a random address, at one level and with equal margins, in an order drawn from a sealed seed. {told}{voices}"
    )
}

fn preparer(found: &RoundFindings) -> String {
    let marked = match found.excluded.len() {
        0 => "No word was left out".to_owned(),
        n => format!("{} left out", were(n, "word")),
    };
    format!(
        "The program prepared every recording alike. {marked}, and none after anybody judged it."
    )
}

fn were(n: usize, noun: &str) -> String {
    let verb = if n == 1 { "was" } else { "were" };
    format!("{} {verb}", counted(n, noun))
}

fn researcher(found: &RoundFindings) -> String {
    let deviations = match found.round.deviations.len() {
        0 => "nothing was done otherwise than planned".to_owned(),
        n => format!("{} otherwise than planned", were(n, "thing")),
    };
    format!(
        "Outcomes are shown by no page or command before the round is closed and unlocked, and both are logged; {deviations}."
    )
}

fn clinician(found: &RoundFindings) -> String {
    let bars = match found.plan.listeners.bars.len() {
        0 => "The plan bars no listener from a child".to_owned(),
        n => format!(
            "The plan bars listeners from children whom they treat ({})",
            counted(n, "bar")
        ),
    };
    let scores = found.own_ear.as_ref().map_or_else(
        || "no score of a session is known".to_owned(),
        |ear| {
            format!(
                "scores given in the session ({}) stand beside the panel's and in no result",
                counted(ear.words, "word")
            )
        },
    );
    format!("{bars}; {scores}.")
}
