//! The rules applied in their order.

use super::super::table::Table;
use super::rest_of_panel::rest_of_panel;
use super::rule::Rule;
use super::signals::Signals;

/// What the rules say of one listener.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Screened {
    /// Why she is left out, a sentence for each rule that she fails; empty where she is kept.
    pub why: Vec<String>,
    /// The place of the first rule that she fails.
    pub first_failed: Option<usize>,
    /// Rules that could not be applied to her, and why; they leave nobody out.
    pub not_applied: Vec<String>,
}

/// Applies the rules in their order to all listeners of a table of main judgements.
///
/// A rule that compares a listener with the others compares her with those whom the rules before it have kept. A listener who fails a
/// rule is left out from there on; the later rules still say what they found. `signals`: one entry a rater of the table. Rules see
/// nothing else: no item, child, session or phase, so that the hoped result cannot choose the listeners.
pub fn screen(rules: &[Rule], table: &Table, signals: &[Signals]) -> Vec<Screened> {
    let mut screened = vec![Screened::default(); signals.len()];
    for (number, rule) in rules.iter().enumerate() {
        let rest: Vec<Option<f64>> = if matches!(rule, Rule::MinRestOfPanelAgreement { .. }) {
            let kept: Vec<bool> = screened.iter().map(|one| one.why.is_empty()).collect();
            let found = rest_of_panel(table, &kept);
            found
                .into_iter()
                .map(|one| one.ok().map(|rest| rest.agreement))
                .collect()
        } else {
            Vec::new()
        };
        for (place, (one, signals)) in screened.iter_mut().zip(signals).enumerate() {
            match rule.failed_by(signals, rest.get(place).copied().flatten()) {
                Ok(None) => {}
                Ok(Some(reason)) => {
                    one.first_failed.get_or_insert(number);
                    one.why.push(reason);
                }
                Err(reason) => one
                    .not_applied
                    .push(format!("{}: {reason}", rule.sentence())),
            }
        }
    }
    screened
}
