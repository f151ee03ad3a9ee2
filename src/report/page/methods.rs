//! The methods of a round in paragraphs that can be copied: every count in them is one of what was done.

use super::super::number::coefficient;
use super::super::number::count;
use super::super::number::counted;
use super::super::number::fixed;
use super::super::number::listed;
use super::super::text;
use super::words::children;
use super::words::kept;
use super::words::level;
use super::words::points;
use crate::analysis::RoundFindings;
use crate::analysis::RoundsFinding;
use crate::study::ListenerKind;
use crate::study::Phase;
use crate::study::Plan;
use crate::study::Use;

/// The methods, a paragraph each for the recordings, the listening, the reckoning and, where there are several rounds, how
/// these were joined.
pub(super) fn methods(found: &RoundFindings) -> Vec<String> {
    let mut paragraphs = vec![material(found), listening(found), reckoning(found)];
    let over = found.over_rounds.as_ref();
    paragraphs.extend(over.filter(|over| !over.sessions.is_empty()).map(joining));
    paragraphs
}

fn material(found: &RoundFindings) -> String {
    let scored = found
        .tokens
        .rows
        .iter()
        .filter(|row| row.use_ == Use::Scored)
        .count();
    let peers = super::children::codes(found, Use::Peer).len();
    let treated = super::children::codes(found, Use::Scored).len();
    let peer_tokens = found.tokens.rows.len() - scored;
    let mut sessions: Vec<(u32, u32)> = found
        .tokens
        .rows
        .iter()
        .map(|row| (row.child, row.session))
        .collect();
    sessions.sort_unstable();
    sessions.dedup();
    let with_peers = if peers == 0 {
        String::new()
    } else {
        format!(
            " and {} of {} of the same age with typical speech",
            counted(peer_tokens, "recording"),
            if peers == 1 {
                "one peer".to_owned()
            } else {
                format!("{} peers", count(peers))
            },
        )
    };
    format!(
        "{} of single words ({}) by {}{with_peers}, from {} in all, were judged for {}{}. Each was brought to 48 kHz and one channel, cut to fixed margins around the word, faded, and levelled to {} LUFS by one constant gain.",
        counted(scored, "recording"),
        phases_heard(found).join(", "),
        children(treated),
        counted(sessions.len(), "session"),
        found.study.target,
        links(found),
        fixed(found.study.level_lufs, 0),
    )
}

/// The phases of the recordings of this round, in the study's order.
fn phases_heard(found: &RoundFindings) -> Vec<&str> {
    let tokens = &found.tokens;
    let heard = |phase: &&str| {
        let mut rows = tokens.rows.iter();
        rows.any(|row| tokens.phases.name(row.phase) == *phase)
    };
    let phases = found.study.phases.iter().map(Phase::as_str);
    phases.filter(heard).collect()
}

/// The words of earlier rounds that were heard once more.
fn links(found: &RoundFindings) -> String {
    match found
        .record
        .tokens
        .iter()
        .filter(|token| token.link)
        .count()
    {
        0 => String::new(),
        n => format!(
            "; {} of earlier rounds came again among them, only to tell the panels apart",
            counted(n, "recording")
        ),
    }
}

fn listening(found: &RoundFindings) -> String {
    let plan = &found.plan;
    let kind = match plan.listeners.kind {
        ListenerKind::Naive => "naive",
        ListenerKind::Expert => "expert",
    };
    let began = found.listeners.listeners.len();
    let main: usize = found
        .listeners
        .listeners
        .iter()
        .map(|row| row.judgements as usize)
        .sum();
    let repeats: usize = found
        .listeners
        .listeners
        .iter()
        .map(|row| row.repeat.pairs as usize)
        .sum();
    let checks: usize = found
        .listeners
        .listeners
        .iter()
        .map(|row| (row.check.n_correct_items + row.check.n_distorted_items) as usize)
        .sum();
    format!(
        "{} judged words one at a time as “correct” or “distorted”, {} main judgements in all ({} of them by the {} who were kept), with {} on check words and {} on words heard again; {} set aside. Each word was to be judged by {}. Listeners were told neither child nor session, phase, cohort nor date; order and allocation were drawn from a seed whose hash was sealed before the first of them; the side of the answers was balanced over listeners. {} fixed beforehand decided who was kept{}.{}",
        counted(began, &format!("{kind} listener")),
        count(main),
        count(found.agreement.values),
        count(kept(found)),
        count(checks),
        count(repeats),
        counted(found.set_aside, "presentation"),
        counted(plan.listeners.judgements_per_token as usize, "listener"),
        match plan.screening.rules.len() {
            0 => "No rule".to_owned(),
            1 => "One rule".to_owned(),
            n => format!("{} rules", count(n)),
        },
        live(plan),
        known_answers(found),
    )
}

/// What the rules did while listeners judged.
fn live(plan: &Plan) -> String {
    let after = plan.screening.live_after();
    let after = after.filter(|_| !plan.screening.rules.is_empty());
    after.map_or_else(String::new, |after| {
        format!(
            "; from {} on, whoever could no longer meet a rule of speed, one-sidedness, checks or repeats, however she went on, heard no more",
            counted(after as usize, "check word"),
        )
    })
}

/// By how many people the answers of check and practice words are known.
fn known_answers(found: &RoundFindings) -> String {
    let counts = found.round.known_answers;
    counts.map_or_else(String::new, |counts| {
        let said = text::known_answers(counts);
        format!(" The answers of check and practice words were known: {said}.")
    })
}

fn reckoning(found: &RoundFindings) -> String {
    let level = level(found);
    format!(
        "A session's score is the mean over its words of the share of judgements “correct”; its {level} interval carries the sampling of words and of listeners. A child's change is the difference of unweighted means of sessions; its interval carries good and bad days where both sides have three sessions, and the minimal detectable change is 1.96 standard errors of a difference under no change. “Improved” means: the interval lies beyond zero and the difference beyond the minimal detectable change; “no relevant change”: the interval lies within {} either way; anything else cannot be told.{}{} Agreement is Krippendorff's alpha, its limits resampled over words, and Gwet's AC1, beside percent and specific agreement. Seed of everything resampled: {}. Computed by Fair Hearing {}.",
        points(found.plan.contrast.smallest_change.get()),
        overlap(found),
        tests(found),
        found.plan.analysis.seed,
        found.program,
    )
}

/// What NAP is, where it was computed.
fn overlap(found: &RoundFindings) -> &'static str {
    let mut changes = found.outcome.changes.iter();
    if changes.any(|change| change.effects.nap.estimate.is_some()) {
        " NAP is the share of all pairs of an earlier and a later session in which the later one scored higher, a tie counting one half."
    } else {
        ""
    }
}

/// By what cohorts and the draw within children were tested, where they were, in this round or over all.
fn tests(found: &RoundFindings) -> String {
    let over = found.over_rounds.as_ref();
    let cohorts =
        found.outcome.cohort_test.is_some() || over.is_some_and(|over| over.cohort_test.is_some());
    let drawn = found.outcome.randomisation.is_some()
        || over.is_some_and(|over| over.randomisation.is_some());
    let mut said = String::new();
    if cohorts {
        said.push_str(
            " Cohorts were compared by a permutation test of the difference of their mean changes, the child being the unit; its p is two-sided.",
        );
    }
    if drawn {
        said.push_str(
            " What was drawn within children was tested among all draws that had been possible; its p is given one-sided and two-sided.",
        );
    }
    said
}

/// How several rounds were put on one scale.
fn joining(over: &RoundsFinding) -> String {
    let panels: Vec<String> = over
        .panels
        .iter()
        .map(|panel| {
            format!(
                "{} ({}, Krippendorff's alpha {})",
                panel.round,
                counted(panel.listeners, "listener"),
                coefficient(panel.krippendorff_alpha),
            )
        })
        .collect();
    let links: Vec<String> = over
        .rounds
        .iter()
        .map(|pair| {
            let words = counted(pair.links, "recording");
            format!("{words} of round {} in round {}", pair.beside, pair.round)
        })
        .collect();
    format!(
        "Rounds {} were put on one scale, that of the panel of round {}: how lenient each later panel was, in log odds, was estimated from recordings of earlier rounds that it heard again, unannounced ({}); this takes the shift to be one and the same at every accuracy. A session heard in several rounds counts where most of its words were heard. The sampling error of this shift stands in every limit over all rounds.",
        listed(&panels),
        over.reference,
        listed(&links),
    )
}
