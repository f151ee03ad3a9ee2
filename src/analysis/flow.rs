//! The listeners' flow: from those who were invited to those whose judgements were analysed.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Listeners;
use crate::study::ListenerCode;
use crate::study::PresentationKind;
use crate::study::record::Came;
use crate::study::record::RoundRecord;

/// Listeners who were left out, by reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// Why.
    pub reason: String,
    /// How many; who fails several rules counts for the first of them alone.
    pub listeners: usize,
}

/// How many listeners came how far. Whoever withdrew had finished: she has a receipt.
pub(super) fn flow(record: &RoundRecord, listeners: &Listeners) -> BTreeMap<&'static str, usize> {
    let steps = [
        ("invited", Came::Invited),
        ("opened", Came::Opened),
        ("agreed", Came::Agreed),
        ("began", Came::Began),
        ("finished", Came::Finished),
    ];
    let reached = |step| {
        let all = record.listeners.iter();
        all.filter(|row| row.came >= step).count()
    };
    let let_go = record.listeners.iter().filter(|row| row.let_go.is_some());
    let withdrawn = record.facts.withdrawn;
    let judged = || listeners.listeners.iter();
    steps
        .into_iter()
        .map(|(name, step)| (name, reached(step) + withdrawn))
        .chain([
            ("qualified", qualified(record) + withdrawn),
            ("reference", reference(record)),
            ("let_go", let_go.count()),
            ("withdrew", withdrawn),
            ("left_out", judged().filter(|row| !row.kept).count()),
            ("analysed", judged().filter(|row| row.kept).count()),
        ])
        .collect()
}

/// Listeners who came beyond consent, sound check and practice: to a word that is not practice.
fn qualified(record: &RoundRecord) -> usize {
    let beyond = record
        .presentations
        .iter()
        .filter(|row| row.kind != PresentationKind::Practice)
        .map(|row| &row.listener);
    beyond.collect::<BTreeSet<&ListenerCode>>().len()
}

/// Listeners of another kind than the panel's who judged: they stand beside it.
fn reference(record: &RoundRecord) -> usize {
    let beside = record.reference_listeners();
    let heard = record.presentations.iter().map(|row| &row.listener);
    let judged: BTreeSet<&ListenerCode> = heard.filter(|code| beside.contains(code)).collect();
    judged.len()
}

/// The reasons for which listeners who judged were left out, in the order of the sealed rules.
pub(super) fn left_out(listeners: &Listeners) -> Vec<LeftOut> {
    let mut reasons: Vec<LeftOut> = Vec::new();
    for row in listeners.listeners.iter().filter(|row| !row.kept) {
        let reason = row.first_failed.and_then(|rule| listeners.rules.get(rule));
        let reason = reason.map_or("no sealed rule", |rule| rule.rule.as_str());
        match reasons.iter_mut().find(|known| known.reason == reason) {
            Some(known) => known.listeners += 1,
            None => reasons.push(LeftOut {
                reason: reason.to_owned(),
                listeners: 1,
            }),
        }
    }
    reasons
}
