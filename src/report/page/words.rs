//! Sentences of a report that hold figures: each figure is counted or computed, none is written by hand.

use super::super::number::count;
use super::super::number::counted;
use super::super::number::fixed;
use super::super::number::percent;
use crate::analysis::CohortTestFinding;
use crate::analysis::RandomisationFinding;
use crate::analysis::Reasons;
use crate::analysis::RoundFindings;
use crate::analysis::Words;
use crate::study::Use;
use crate::study::plan::WordSet;

/// "95%".
pub(super) fn level(found: &RoundFindings) -> String {
    percent(found.plan.analysis.confidence.level())
}

/// What was compared, as it was sealed.
pub(super) fn contrast(found: &RoundFindings) -> String {
    let contrast = &found.plan.contrast;
    let later = contrast.last.map_or_else(
        || format!("all sessions of {}", contrast.to),
        |last| {
            format!(
                "the last {} of {}",
                counted(last as usize, "session"),
                contrast.to
            )
        },
    );
    let words = match contrast.words {
        WordSet::All => "all words",
        WordSet::Treated => "the words practised in treatment",
        WordSet::Untreated => "words never practised",
    };
    format!(
        "Compared: all sessions of {} with {later}, on {words}. The smallest change that matters was set at {}.",
        contrast.from,
        points(contrast.smallest_change.get()),
    )
}

pub(super) fn points(share: f64) -> String {
    let shown = fixed(share * 100.0, 1);
    let shown = shown.strip_suffix(".0").unwrap_or(&shown);
    format!("{shown} points")
}

/// How many listeners came how far.
pub(super) fn flow(found: &RoundFindings) -> String {
    let of = |step: &str| count(found.flow.get(step).copied().unwrap_or(0));
    let mut said = format!(
        "{} invited, {} opened the link, {} agreed, {} began to listen, {} qualified, {} finished; {} left out by the sealed rules, {} analysed.",
        of("invited"),
        of("opened"),
        of("agreed"),
        of("began"),
        of("qualified"),
        of("finished"),
        of("left_out"),
        of("analysed"),
    );
    if found.flow.get("reference").is_some_and(|n| *n > 0) {
        let more = " {} judged as a reference beside the panel and in none of its figures.";
        said.push_str(&more.replace("{}", &of("reference")));
    }
    if found.flow.get("let_go").is_some_and(|n| *n > 0) {
        let more = " Of those who began, the rules let {} go, and their places went to others.";
        said.push_str(&more.replace("{}", &of("let_go")));
    }
    if found.flow.get("withdrew").is_some_and(|n| *n > 0) {
        let more = " {} of those who finished withdrew; nothing of theirs stands in these figures.";
        said.push_str(&more.replace("{}", &of("withdrew")));
    }
    said
}

pub(super) fn kept(found: &RoundFindings) -> usize {
    found
        .listeners
        .listeners
        .iter()
        .filter(|row| row.kept)
        .count()
}

/// What chance alone would do.
pub(super) fn by_chance(found: &RoundFindings) -> String {
    let (judged, expected) = falsely_improved(found);
    format!(
        "Of {} judged by this rule on the sealed words, one verdict each, chance alone would call about {} “improved” on average.",
        children(judged),
        fixed(expected, 2),
    )
}

/// Children who were judged, by this round or, where it compares none, over all rounds; and how many of them chance alone
/// would call improved at one look.
fn falsely_improved(found: &RoundFindings) -> (usize, f64) {
    let own = found.outcome.changes.iter();
    let sealed: Words = found.plan.contrast.words.into();
    let judged = own
        .filter(|change| change.words == sealed && change.ci.is_some())
        .count();
    let over = found
        .over_rounds
        .as_ref()
        .map_or(0, |over| over.changes.len());
    let judged = if judged > 0 { judged } else { over };
    let each = (1.0 - found.plan.analysis.confidence.level()) / 2.0;
    (judged, each * judged as f64)
}

/// Which look at the results this is, and what chance does over all of them.
pub(super) fn looks(found: &RoundFindings) -> Option<String> {
    let looks = found.outcome.looks?;
    let planned = match (looks.planned, looks.to_come) {
        (Some(planned), Some(to_come)) => format!("of {planned} planned, {to_come} to come"),
        _ => "no number was planned".to_owned(),
    };
    let (_, once) = falsely_improved(found);
    let at_the_end = looks.planned.map_or_else(String::new, |planned| {
        let all = once * f64::from(planned.max(looks.taken));
        format!(", and {} once all planned looks are taken", fixed(all, 2))
    });
    Some(format!(
        "This is look {} at the results ({planned}). Over the looks so far chance alone would call about {} children “improved” at one or another{at_the_end}.",
        looks.taken,
        fixed(once * f64::from(looks.taken), 2),
    ))
}

/// The test of what was drawn within children, or why there is none.
pub(in crate::report) fn randomisation(found: &RoundFindings) -> Option<String> {
    let outcome = &found.outcome;
    test_of_the_draw(outcome.randomisation.as_ref(), &outcome.reasons)
}

/// The same of the sessions of all rounds.
pub(in crate::report) fn test_of_the_draw(
    test: Option<&RandomisationFinding>,
    reasons: &Reasons,
) -> Option<String> {
    let Some(test) = test else {
        let why = reasons.of("randomisation")?;
        return Some(format!(
            "What was drawn is described and not tested: {why}."
        ));
    };
    let exact = if test.exact { "all listed" } else { "sampled" };
    let left_out = reasons
        .of("randomisation.cases")
        .map_or_else(String::new, |said| format!(" Cases {said}."));
    Some(format!(
        "Statistic: {}; {} points. Among the {} draws that were possible ({exact}), p {} one-sided and {} two-sided; the smallest that this design could give are {} and {}.{left_out}",
        test.statistic,
        super::super::number::points_1(Some(test.observed)),
        fixed(test.assignments, 0),
        super::super::number::p_value(Some(test.p)),
        super::super::number::p_value(Some(test.p_two_sided)),
        super::super::number::p_value(Some(test.smallest_p)),
        super::super::number::p_value(Some(test.smallest_p_two_sided)),
    ))
}

pub(super) fn children(n: usize) -> String {
    if n == 1 {
        "1 child".to_owned()
    } else {
        format!("{} children", count(n))
    }
}

/// The peers in a sentence.
pub(super) fn peers(found: &RoundFindings) -> Option<String> {
    let n = super::children::codes(found, Use::Peer).len();
    let band = super::graphs::band(&found.outcome)?;
    let (low, high) = (percent(band.low), percent(band.high));
    let range = if low == high {
        format!("in {low}")
    } else {
        format!("in {low} to {high}")
    };
    let who = if n == 1 {
        "One peer".to_owned()
    } else {
        format!("{} peers", count(n))
    };
    Some(format!(
        "{who} of the same age, with typical speech, heard in the same round: judged correct {range} of judgements, from the lowest session to the highest."
    ))
}

/// The cohorts against each other, or why they are not tested.
pub(in crate::report) fn cohort_test(found: &RoundFindings) -> String {
    test_of_cohorts(found.outcome.cohort_test.as_ref(), &found.outcome.reasons)
}

/// The same of the changes over all rounds.
pub(in crate::report) fn test_of_cohorts(
    test: Option<&CohortTestFinding>,
    reasons: &Reasons,
) -> String {
    let few = "So few children show what happened to these children, not to all.";
    let Some(test) = test else {
        let why = reasons.of("cohort_test").map_or_else(
            || "The cohorts are described and not tested.".to_owned(),
            |why| format!("The cohorts are described and not tested: {why}."),
        );
        return format!("{why} {few}");
    };
    let exact = if test.exact { "exact" } else { "sampled" };
    format!(
        "Difference of the cohorts' mean changes {} points, p {} ({exact} permutation test; the smallest p that this design could give is {}). {few}",
        super::super::number::points_1(Some(test.difference)),
        super::super::number::p_value(Some(test.p)),
        super::super::number::p_value(Some(test.smallest_p)),
    )
}
