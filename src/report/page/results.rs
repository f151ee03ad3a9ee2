//! The results in paragraphs that can be copied: each figure is one that was computed, with its interval.

use super::super::number::coefficient;
use super::super::number::count;
use super::super::number::counted;
use super::super::number::limits;
use super::super::number::percent_1;
use super::super::number::percent_limits_1;
use super::super::number::points_1;
use super::super::number::points_limits_1;
use super::super::number::size_in_points;
use super::super::tables;
use super::super::tables::verdict;
use super::super::tables::verdict_words;
use super::super::tables::word_set;
use super::words;
use crate::analysis::Agreement;
use crate::analysis::ChangeFinding;
use crate::analysis::PlacedChangeFinding;
use crate::analysis::ReferenceFinding;
use crate::analysis::RoundFindings;
use crate::analysis::Words;

/// Agreement, then each child, then the cohorts and what chance would do.
pub(super) fn results(found: &RoundFindings) -> Vec<String> {
    let mut paragraphs = vec![agreement(found)];
    paragraphs.extend(found.reference.as_deref().map(|one| experts(found, one)));
    let children = super::children::graphs_of(found);
    paragraphs.extend(
        children
            .iter()
            .filter_map(|graph| child(found, &graph.child, graph.beside.as_deref())),
    );
    let over = found.over_rounds.iter().flat_map(|over| &over.changes);
    let mut over: Vec<&PlacedChangeFinding> = over.collect();
    over.sort_by(|a, b| a.child.cmp(&b.child));
    paragraphs.extend(over.into_iter().map(|change| placed(found, change)));
    paragraphs.push(cohorts(found));
    paragraphs
}

fn agreement(found: &RoundFindings) -> String {
    let agreed: &Agreement = &found.agreement;
    let percent = &agreed.percent_agreement;
    let alpha = &agreed.krippendorff_alpha;
    let specific = |label: &str| {
        let one = agreed.specific_agreement.get(label);
        percent_1(one.and_then(|one| one.estimate))
    };
    let level = words::level(found);
    let both = |ci: Option<[f64; 2]>, shown: fn(Option<[f64; 2]>) -> String| {
        ci.map_or_else(String::new, |ci| {
            format!("; {} for listeners like them too", shown(Some(ci)))
        })
    };
    format!(
        "Two of the {} who were analysed agreed on {} of the words that both judged ({level} interval {}{}); agreement was {} on “correct” and {} on “distorted”. Krippendorff's alpha was {} ({level} interval {}{}), Gwet's AC1 {} ({}).{}",
        counted(agreed.raters, "listener"),
        percent_1(percent.estimate),
        percent_limits_1(percent.ci),
        both(percent.ci_both, percent_limits_1),
        specific("correct"),
        specific("distorted"),
        coefficient(alpha.estimate),
        limits(alpha.ci),
        both(alpha.ci_both, limits),
        coefficient(agreed.gwet_ac1.estimate),
        limits(agreed.gwet_ac1.ci),
        repeats(found),
    )
}

/// How the listeners who were analysed agree with themselves.
fn repeats(found: &RoundFindings) -> String {
    let kept = found.listeners.listeners.iter().filter(|row| row.kept);
    let heard = kept.filter_map(|row| Some((f64::from(row.repeat.pairs), row.repeat.agreement?)));
    let (pairs, alike) = heard.fold((0.0, 0.0), |(pairs, alike), (n, agreement)| {
        (pairs + n, alike + n * agreement)
    });
    if pairs < 1.0 {
        return String::new();
    }
    format!(
        " Of {} heard again, they judged {} as before.",
        counted(whole(pairs), "word"),
        percent_1(Some(alike / pairs)),
    )
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a sum of counts"
)]
fn whole(count: f64) -> usize {
    count.round() as usize
}

fn experts(found: &RoundFindings, one: &ReferenceFinding) -> String {
    let level = words::level(found);
    format!(
        "On {}, the majority of {} called {} of the words correct that the majority of {} called so ({level} interval {}), and {} of those distorted that they called distorted ({}); Cohen's kappa of the two majorities was {}. The experts differed among themselves on {}. The two kinds of listeners are pooled nowhere.",
        words_compared(one),
        counted(one.naive, "naive listener"),
        percent_1(one.sensitivity),
        counted(one.experts, "expert"),
        percent_limits_1(one.sensitivity_ci),
        percent_1(one.specificity),
        percent_limits_1(one.specificity_ci),
        coefficient(one.majorities.as_ref().and_then(|pair| pair.estimate)),
        counted(one.experts_differ, "word"),
    )
}

/// The words that have a majority on both sides, and those that have none.
fn words_compared(one: &ReferenceFinding) -> String {
    let sides = [
        ("experts", one.experts_divided.len()),
        ("naive listeners", one.naive_divided),
    ];
    let divided: Vec<String> = sides
        .into_iter()
        .filter(|(_, words)| *words > 0)
        .map(|(side, words)| format!("on {} the {side} were evenly divided", count(words)))
        .collect();
    if divided.is_empty() {
        return format!("{} that both heard", counted(one.shared_words, "word"));
    }
    format!(
        "{} of the {} that both heard ({})",
        count(one.both_correct + one.experts_only + one.naive_only + one.both_distorted),
        counted(one.shared_words, "word"),
        divided.join(", "),
    )
}

/// A child's change over all rounds.
fn placed(found: &RoundFindings, change: &PlacedChangeFinding) -> String {
    let level = words::level(found);
    format!(
        "{}, over all rounds on one scale: {} judged correct over {} of {}, {} over {} of {}; a difference of {} points ({level} interval {}, the error of linking in it), with a minimal detectable change of {}: {}.",
        change.child,
        percent_1(Some(change.mean_from)),
        counted(change.sessions_from, "session"),
        change.from,
        percent_1(Some(change.mean_to)),
        counted(change.sessions_to, "session"),
        change.to,
        points_1(Some(change.difference)),
        points_limits_1(Some(change.ci)),
        size_in_points(Some(change.mdc95)),
        verdict_words(change.verdict, change.mdc95_includes_sessions),
    )
}

/// A child's changes, that of the sealed words first.
fn child(found: &RoundFindings, code: &str, cohort: Option<&str>) -> Option<String> {
    let first: Words = found.plan.contrast.words.into();
    let own = found.outcome.changes.iter().filter(|c| c.child == code);
    let mut changes: Vec<&ChangeFinding> = own.collect();
    changes.sort_by_key(|change| change.words != first);
    let several = changes.len() > 1;
    let said: Vec<String> = changes
        .iter()
        .map(|change| change_in_words(found, change, several))
        .collect();
    let cohort = cohort.map_or_else(String::new, |cohort| format!(" ({cohort})"));
    (!said.is_empty()).then(|| format!("{code}{cohort}: {}.", said.join("; ")))
}

fn change_in_words(found: &RoundFindings, change: &ChangeFinding, several: bool) -> String {
    let level = words::level(found);
    let words = if several {
        format!("{} words: ", word_set(change.words).1)
    } else {
        String::new()
    };
    let nap = change.effects.nap;
    let nap = nap.estimate.map_or_else(String::new, |estimate| {
        format!(
            ", NAP {} ({level} interval {})",
            coefficient(Some(estimate)),
            limits(nap.ci)
        )
    });
    format!(
        "{words}{} judged correct over {} of {}, {} over {} of {}; a difference of {} points ({level} interval {}), with a minimal detectable change of {}{nap}: {}",
        percent_1(change.mean_from),
        counted(change.sessions_from, "session"),
        change.from,
        percent_1(change.mean_to),
        counted(change.sessions_to, "session"),
        change.to,
        points_1(change.difference),
        points_limits_1(change.ci),
        size_in_points(change.mdc95),
        verdict(change),
    )
}

fn cohorts(found: &RoundFindings) -> String {
    let level = words::level(found);
    let own = &found.outcome.cohorts;
    let compared = own.iter().any(|cohort| cohort.children > 0);
    let over = found.over_rounds.as_ref().filter(|_| !compared);
    let cohorts = over.map_or(own, |over| &over.cohorts);
    let each: Vec<String> = cohorts
        .iter()
        .filter(|cohort| cohort.children > 0)
        .map(|cohort| {
            let limits = tables::too_few_children(cohort).map_or_else(
                || format!("{level} interval {}", points_limits_1(cohort.ci)),
                |few| format!("{few} what the mean of all such children is"),
            );
            format!(
                "{}: {} points over {} children ({limits})",
                cohort.cohort,
                points_1(cohort.mean_change),
                count(cohort.children),
            )
        })
        .collect();
    let mut said = Vec::new();
    if !each.is_empty() {
        said.push(format!("Mean change by cohort: {}.", each.join("; ")));
        said.push(over.map_or_else(
            || words::cohort_test(found),
            |over| words::test_of_cohorts(over.cohort_test.as_ref(), &over.reasons),
        ));
    }
    said.push(words::by_chance(found));
    said.extend(words::looks(found));
    said.join(" ")
}
