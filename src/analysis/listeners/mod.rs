//! Listeners: covert signals, screening by the sealed rules, and every exclusion with its reason.

mod finding;
mod heard;
mod live;

pub use finding::CheckFinding;
pub use finding::DriftFinding;
pub use finding::ListenerFinding;
pub use finding::Listeners;
pub use finding::RepeatFinding;
pub use finding::RestFinding;
pub use finding::RuleFinding;
pub use live::HeardSoFar;
pub use live::Remaining;
pub use live::out_of_reach;

use std::collections::BTreeMap;
use std::collections::HashMap;

use super::Positive;
use super::Reasons;
use super::agreement::Judged;
use crate::stats::Undefined;
use crate::stats::listener as of;
use crate::stats::listener::RestOfPanel;
use crate::stats::listener::Rule;
use crate::stats::listener::Rules;
use crate::stats::listener::Screened;
use crate::stats::listener::Signals;
use crate::study::Invalid;
use crate::study::PresentationKind;
use crate::study::Ratings;
use heard::Heard;
use heard::count;

/// Computes what is known of every listener and applies the rules in their order.
///
/// `key` gives the known answers of check items. Rules see signals alone: no token, child, session or phase.
///
/// # Errors
/// [`Invalid`] where it is not clear which value is positive, a check item has no known answer, or a rule cannot be meant.
pub fn listeners(
    ratings: &Ratings,
    key: Option<&BTreeMap<String, String>>,
    rules: &Rules,
    positive: Option<&str>,
    confidence: f64,
) -> Result<Listeners, Invalid> {
    let refused = |error: of::RuleError| Invalid::new(error.what, error.mend);
    rules.check().map_err(refused)?;
    let positive = Positive::of(&ratings.values, positive)?;
    let heard = heard::listeners(ratings, &positive, key)?;
    let rows: Vec<_> = ratings.of_kind(PresentationKind::Main).collect();
    let judged = Judged::with_all_raters(ratings, &rows, 2, |value| u32::from(positive.is(value)))?;
    let signals: Vec<Signals> = heard.iter().map(|one| one.signals(confidence)).collect();
    let screened = of::screen(&rules.rules, &judged.table, &signals);
    let rest = of::rest_of_panel(&judged.table, &[]);
    let mut reasons = Reasons::new();
    if heard.is_empty() {
        reasons.say("listeners", Undefined::NoJudgements);
    }
    if rules.rules.is_empty() {
        reasons.say("rules", "no rules were given, so every listener is kept");
    }
    if key.is_none() {
        reasons.say(
            "listeners.check",
            "no known answers were given; name them with --key",
        );
    }
    let found = heard
        .iter()
        .zip(&signals)
        .zip(rest)
        .zip(&screened)
        .map(|(((heard, signals), rest), screened)| {
            one(heard, signals, rest, screened, key.is_some())
        })
        .collect();
    Ok(Listeners {
        listeners: found,
        rules: rules_found(rules, &signals, &judged),
        reasons,
    })
}

fn one(
    heard: &Heard,
    signals: &Signals,
    rest: Result<RestOfPanel, Undefined>,
    screened: &Screened,
    has_key: bool,
) -> ListenerFinding {
    let mut reasons = Reasons::new();
    let n = f64::from(signals.judgements);
    let rate = (n > 0.0).then(|| f64::from(signals.positive) / n);
    let times = of::median(&signals.response_times_ms).ok_or("no response time is known");
    ListenerFinding {
        rater: heard.name.clone(),
        judgements: signals.judgements,
        positive_rate: reasons.keep("positive_rate", rate.ok_or(Undefined::NoJudgements)),
        check: check(heard, has_key, &mut reasons),
        repeat: repeat(signals, &mut reasons),
        rest_of_panel: rest_of_panel(rest, &mut reasons),
        drift: drift(heard, &mut reasons),
        median_rt_ms: reasons.keep("median_rt_ms", times),
        longest_run: heard.longest_run(),
        kept: screened.why.is_empty(),
        why: screened.why.clone(),
        first_failed: screened.first_failed,
        not_applied: screened.not_applied.clone(),
        reasons,
    }
}

fn check(heard: &Heard, has_key: bool, reasons: &mut Reasons) -> CheckFinding {
    if heard.checks.is_empty() {
        let reason = if has_key {
            "she heard no check words"
        } else {
            "no known answers were given; name them with --key"
        };
        reasons.say("check", reason);
        return CheckFinding::default();
    }
    let counted = |known: bool, said: bool| {
        count(
            heard
                .checks
                .iter()
                .filter(|check| **check == (known, said))
                .count(),
        )
    };
    let (hits, misses) = (counted(true, true), counted(true, false));
    let (false_alarms, rejections) = (counted(false, true), counted(false, false));
    let (signals, noises) = (hits + misses, false_alarms + rejections);
    let detection = of::signal_detection(hits, signals, false_alarms, noises);
    CheckFinding {
        n_correct_items: signals,
        n_distorted_items: noises,
        hits,
        false_alarms,
        accuracy: Some(f64::from(hits + rejections) / f64::from(signals + noises)),
        d_prime: reasons
            .keep("check.d_prime", detection)
            .map(|found| found.d_prime),
        criterion: reasons
            .keep("check.criterion", detection)
            .map(|found| found.criterion),
    }
}

fn repeat(signals: &Signals, reasons: &mut Reasons) -> RepeatFinding {
    let Some(found) = reasons.keep("repeat", signals.repeats) else {
        return RepeatFinding::default();
    };
    RepeatFinding {
        pairs: found.pairs,
        agreement: Some(found.agreement),
        ci: Some(found.interval),
        kappa: reasons.keep("repeat.kappa", found.kappa),
    }
}

fn rest_of_panel(rest: Result<RestOfPanel, Undefined>, reasons: &mut Reasons) -> RestFinding {
    let Some(rest) = reasons.keep("rest_of_panel", rest) else {
        return RestFinding::default();
    };
    RestFinding {
        agreement: Some(rest.agreement),
        correlation: reasons.keep("rest_of_panel.correlation", rest.correlation),
    }
}

fn drift(heard: &Heard, reasons: &mut Reasons) -> DriftFinding {
    let Some(places) = heard.over_places() else {
        reasons.say(
            "drift",
            "the file does not say in which order she judged (column `order`)",
        );
        return DriftFinding::default();
    };
    let found = reasons.keep("drift", of::drift(&places));
    DriftFinding {
        slope_per_100: found.map(|found| found.slope_per_100),
        p: found.map(|found| found.p),
    }
}

fn rules_found(rules: &Rules, signals: &[Signals], judged: &Judged) -> Vec<RuleFinding> {
    let checks = usual(signals.iter().map(|one| one.checks));
    let repeats = usual(
        signals
            .iter()
            .map(|one| one.repeats.map_or(0, |found| found.pairs)),
    );
    let before = |place: usize| rules.rules.get(..=place).unwrap_or_default();
    rules
        .rules
        .iter()
        .enumerate()
        .map(|(place, rule)| {
            let found = rule.chances(checks, repeats, rules.careful_accuracy);
            let mut reasons = Reasons::new();
            if found.guesser_passes.is_none() {
                for field in ["trials", "guesser_passes", "careful_listener_fails"] {
                    reasons.say(field, chance_unknown(rule));
                }
            }
            RuleFinding {
                rule: rule.sentence(),
                settings: rule.clone(),
                trials: found.trials,
                guesser_passes: found.guesser_passes,
                careful_listener_fails: found.careful_listener_fails,
                careful_accuracy: rules.careful_accuracy,
                fail: failing(before(place), judged, signals),
                reasons,
            }
        })
        .collect()
}

/// How many listeners fail the last of these rules.
fn failing(rules: &[Rule], judged: &Judged, signals: &[Signals]) -> usize {
    let reasons = |rules: &[Rule]| -> usize {
        of::screen(rules, &judged.table, signals)
            .iter()
            .map(|one| one.why.len())
            .sum()
    };
    let earlier = rules.split_last().map_or(&[][..], |(_, earlier)| earlier);
    reasons(rules) - reasons(earlier)
}

fn chance_unknown(rule: &Rule) -> &'static str {
    match rule {
        Rule::MinCheckAccuracy { .. } | Rule::MinChecksRight { .. } => "nobody heard a check word",
        Rule::MinRepeatAgreement { .. } => "nobody heard a word again",
        Rule::MaxShareOfOneAnswer { .. } | Rule::MinRestOfPanelAgreement { .. } => {
            "it depends on how many of the words are correct and on the other listeners"
        }
        _ => "it says nothing about right and wrong",
    }
}

/// The number that most listeners have, those with none left aside; of two equally common ones the smaller.
fn usual(counts: impl Iterator<Item = u32>) -> u32 {
    let mut how_often: HashMap<u32, u32> = HashMap::new();
    for count in counts.filter(|count| *count > 0) {
        *how_often.entry(count).or_default() += 1;
    }
    let most = how_often
        .into_iter()
        .max_by_key(|&(count, often)| (often, std::cmp::Reverse(count)));
    most.map_or(0, |(count, _)| count)
}
