//! What the screening rules of a plan do to a guesser and to a careful listener.

use crate::stats::listener::Chances;
use crate::stats::listener::Rule;
use crate::study::Plan;

/// What the rules of a plan do, for a listener of one sitting.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScreeningForecast {
    /// Each rule in words with its chances.
    pub rules: Vec<(String, Chances)>,
    /// The probability that somebody who guesses passes them all; nothing where no rule tells right from wrong.
    pub guesser_passes: Option<f64>,
    /// The probability that a careful listener fails one of them.
    pub careful_listener_fails: Option<f64>,
}

impl ScreeningForecast {
    /// `repeats`: words heard again in a sitting. Rules that cannot be read say nothing here; sealing refuses them.
    pub(super) fn of(plan: &Plan, repeats: u32) -> Self {
        let screening = &plan.screening;
        let rules = super::super::rules_of(screening).unwrap_or_default().rules;
        let careful = screening.careful_accuracy.get();
        let found: Vec<_> = rules
            .into_iter()
            .map(|rule| {
                let chances = rule.chances(plan.sitting.checks, repeats, careful);
                (rule, chances)
            })
            .collect();
        // Of rules on the same words the strictest decides; checks and repeats are independent of each other.
        let strictest = [strictest(&found, false), strictest(&found, true)];
        let both: Vec<_> = strictest.into_iter().flatten().collect();
        let known = !both.is_empty();
        Self {
            rules: found
                .iter()
                .map(|(rule, chances)| (rule.sentence(), *chances))
                .collect(),
            guesser_passes: known.then(|| both.iter().map(|(passes, _)| passes).product()),
            careful_listener_fails: known
                .then(|| 1.0 - both.iter().map(|(_, fails)| 1.0 - fails).product::<f64>()),
        }
    }
}

fn strictest(found: &[(Rule, Chances)], on_repeats: bool) -> Option<(f64, f64)> {
    found
        .iter()
        .filter(|(rule, _)| matches!(rule, Rule::MinRepeatAgreement { .. }) == on_repeats)
        .filter_map(|(_, chances)| Some((chances.guesser_passes?, chances.careful_listener_fails?)))
        .min_by(|(one, _), (other, _)| one.total_cmp(other))
}
