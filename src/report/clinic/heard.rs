//! Who heard a child and how far they agreed, in two lines: in one round, or in every round of which her page tells.

use std::collections::BTreeSet;

use super::super::number;
use super::super::number::listed;
use crate::analysis::RoundFindings;
use crate::analysis::RoundPanelFinding;
use crate::analysis::RoundsFinding;
use crate::analysis::Words;
use crate::study::PresentationKind;

/// Who heard a child in a round.
pub(super) fn in_round(found: &RoundFindings, child: &str) -> String {
    let own = || {
        let sessions = found.outcome.sessions.iter();
        sessions.filter(|session| session.child == child && session.words == Words::All)
    };
    let recordings = own().map(|session| session.tokens).sum();
    let judgements = own().map(|session| session.judgements).sum();
    let rows = &found.listeners.listeners;
    let kept = rows.iter().filter(|row| row.kept).count();
    let heard_her = kept_who_heard(found, child);
    let told = if heard_her == 1 { "was" } else { "were" };
    let left_out = match rows.len() - kept {
        0 => String::new(),
        n => format!(" {} left out by rules fixed beforehand.", number::count(n)),
    };
    format!(
        "{} who {told} told neither the child nor the date heard {} of this child in round {}, {} in all.{left_out}",
        people(heard_her),
        number::counted(recordings, "recording"),
        found.round.round,
        number::counted(judgements, "answer"),
    )
}

/// Listeners who were kept and judged a word of the child.
fn kept_who_heard(found: &RoundFindings, child: &str) -> usize {
    let tokens = &found.tokens;
    let of_her = |name: &str| {
        let place = tokens.tokens.find(name);
        let row = place.and_then(|place| tokens.rows.get(place as usize));
        row.is_some_and(|row| tokens.children.name(row.child) == child)
    };
    let judged: BTreeSet<&str> = found
        .record
        .presentations
        .iter()
        .filter(|row| row.kind == PresentationKind::Main && row.answer.is_some())
        .filter(|row| of_her(&row.token))
        .map(|row| row.listener.as_str())
        .collect();
    let rows = found.listeners.listeners.iter();
    rows.filter(|row| row.kept && judged.contains(row.rater.as_str()))
        .count()
}

/// How far the listeners of a round agreed.
pub(super) fn agreement_in_round(found: &RoundFindings) -> String {
    let found = &found.agreement;
    agreed(
        &number::percent_1(found.percent_agreement.estimate),
        &number::coefficient(found.krippendorff_alpha.estimate),
    )
}

/// Who heard a child in each of several rounds. Nobody knows of a listener whether she sat in two of them.
pub(super) fn over_rounds(found: &RoundsFinding, child: &str) -> String {
    let panels = panels_of(found, child);
    let heard: Vec<String> = panels
        .iter()
        .map(|panel| {
            let own = found.sessions.iter();
            let own = own.filter(|session| session.child == child && session.round == panel.round);
            format!(
                "{} {} in round {}",
                people(panel.listeners),
                number::counted(own.map(|session| session.tokens).sum(), "recording"),
                panel.round
            )
        })
        .collect();
    let left_out: Vec<String> = panels
        .iter()
        .map(|panel| number::count(panel.left_out))
        .collect();
    let left_out = if panels.iter().all(|panel| panel.left_out == 0) {
        String::new()
    } else {
        format!(" {} left out by rules fixed beforehand.", listed(&left_out))
    };
    format!(
        "People who were told neither the child nor the date heard this child: {}.{left_out}",
        listed(&heard)
    )
}

/// How far the listeners of each of several rounds agreed.
pub(super) fn agreement_over_rounds(found: &RoundsFinding, child: &str) -> String {
    let panels = panels_of(found, child);
    let shown = |of: fn(&RoundPanelFinding) -> String| {
        let shown: Vec<String> = panels.iter().map(|panel| of(panel)).collect();
        listed(&shown)
    };
    agreed(
        &shown(|panel| number::percent_1(panel.percent_agreement)),
        &shown(|panel| number::coefficient(panel.krippendorff_alpha)),
    )
}

fn agreed(percent: &str, alpha: &str) -> String {
    format!(
        "Two who heard the same word gave the same answer in {percent} of cases; beyond chance (Krippendorff's alpha) \
         {alpha}, where 1 is full agreement and 0 is chance."
    )
}

/// The panels of the rounds from which the child's sessions are, oldest first.
fn panels_of<'a>(found: &'a RoundsFinding, child: &str) -> Vec<&'a RoundPanelFinding> {
    let heard_her = |panel: &&RoundPanelFinding| {
        let mut sessions = found.sessions.iter();
        sessions.any(|session| session.child == child && session.round == panel.round)
    };
    found.panels.iter().filter(heard_her).collect()
}

fn people(n: usize) -> String {
    number::counted(n, "person").replace("persons", "people")
}
