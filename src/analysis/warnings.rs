//! Warnings: what a reader must keep in mind of this round, each by a stated rule, with what it means and what to do.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Outcome;
use super::RoomMeasure;
use super::RoundsFinding;
use super::SessionFinding;
use super::Words;
use super::phases::PhaseRecording;
use super::phases::compare_phases;
use crate::stats::special::Binomial;
use crate::study::ListenerKind;
use crate::study::PresentationKind;
use crate::study::Ratings;
use crate::study::Use;
use crate::study::record::RoundRecord;

/// Sessions of a baseline from which a trend or a chance low can be seen at all (What Works Clearinghouse, single-case
/// standards 4.0: three points with reservations, five without).
const FEWEST_SESSIONS: usize = 3;

/// Listeners a word: the majority of 9 naive ones equalled that of 3 trained ones for one distorted sound (study of naive
/// panels, J. Commun. Disord. 2015).
const ENOUGH_NAIVE: f64 = 9.0;
const ENOUGH_EXPERTS: f64 = 3.0;

/// From this one-sided probability down, so many listeners who could tell are more than a coin would give (common practice).
const RARE: f64 = 0.05;

/// What a warning is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Concern {
    /// Fewer than three sessions before treatment.
    ShortBaseline,
    /// The sound was getting better before treatment.
    RisingBaseline,
    /// The first session is far below the rest of the baseline.
    LowStart,
    /// The child was chosen because she scored low.
    ChosenLow,
    /// Sessions hold different words.
    UnequalLists,
    /// A phase can be told by the room.
    RoomTells,
    /// Few listeners a word.
    SmallPanel,
    /// Listeners could tell early from late.
    PhasesGuessed,
    /// Judgements by listeners who know the speaker.
    VoiceKnown,
}

/// One warning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// What it is about.
    pub concern: Concern,
    /// Whom it concerns; nothing: the whole round.
    pub child: Option<String>,
    /// What was found.
    pub found: String,
    /// What it means.
    pub means: &'static str,
    /// What to do.
    pub advice: &'static str,
    /// The rule by which it is said, with its source.
    pub rule: &'static str,
}

/// Every warning of a round: the round's first, then child by child.
pub(super) fn warnings(record: &RoundRecord, kept: &Ratings, outcome: &Outcome) -> Vec<Warning> {
    let mut all = room(record);
    all.extend(small_panel(record, kept));
    all.extend(phases_guessed(record, kept));
    all.extend(voices_known(record, kept));
    all.extend(chosen_low(record));
    let smallest = record.plan.contrast.smallest_change.get();
    let from = record.plan.contrast.from.as_str();
    for (child, baseline) in baselines(outcome, from) {
        let mut changes = outcome.changes.iter();
        if changes.any(|change| change.child == child && change.words == Words::All) {
            all.extend(of_the_baseline(child, from, &baseline, smallest));
            all.extend(unequal_lists(outcome, child));
        } else {
            // She is not treated yet, so that her baseline may still grow.
            all.extend(rising(child, from, &baseline, smallest));
        }
    }
    all
}

/// The baseline of each child, peers left out, as points in order of time.
fn baselines<'a>(outcome: &'a Outcome, from: &str) -> BTreeMap<&'a str, Vec<(f64, f64)>> {
    let mut all: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
    let sessions = outcome.sessions.iter();
    for session in sessions.filter(|s| s.words == Words::All && s.phase == from && !s.peer) {
        let points = all.entry(&session.child).or_default();
        points.extend(point(session));
    }
    all
}

/// Whether a warning speaks of the baseline in one round of a child whom all rounds together compare.
pub(super) fn is_of_one_round(warning: &Warning, rounds: &RoundsFinding) -> bool {
    let of_a_baseline = matches!(
        warning.concern,
        Concern::ShortBaseline | Concern::RisingBaseline | Concern::LowStart
    );
    let child = warning.child.as_deref();
    of_a_baseline
        && rounds
            .changes
            .iter()
            .any(|change| child == Some(change.child.as_str()))
}

/// What the baselines of children say whom all rounds together compare.
pub(super) fn warnings_over_rounds(rounds: &RoundsFinding, smallest: f64) -> Vec<Warning> {
    let mut changes: Vec<_> = rounds.changes.iter().collect();
    changes.sort_by(|a, b| a.child.cmp(&b.child));
    let warned = changes.into_iter().flat_map(|change| {
        let baseline: Vec<(f64, f64)> = rounds
            .sessions
            .iter()
            .filter(|s| s.child == change.child && s.phase == change.from)
            .map(|s| (f64::from(s.session), s.proportion_correct))
            .collect();
        of_the_baseline(&change.child, &change.from, &baseline, smallest)
    });
    warned.collect()
}

/// `baseline`: ordinals and scores in order of time.
fn of_the_baseline(
    child: &str,
    phase: &str,
    baseline: &[(f64, f64)],
    smallest: f64,
) -> Vec<Warning> {
    [
        short_baseline(child, phase, baseline.len()),
        rising(child, phase, baseline, smallest),
        low_start(child, phase, baseline, smallest),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A session as a point: its ordinal and its score.
fn point(session: &SessionFinding) -> Option<(f64, f64)> {
    Some((f64::from(session.session), session.proportion_correct?))
}

fn short_baseline(child: &str, phase: &str, sessions: usize) -> Option<Warning> {
    (sessions < FEWEST_SESSIONS).then(|| Warning {
        concern: Concern::ShortBaseline,
        child: Some(child.to_owned()),
        found: format!(
            "The {phase} of {child} has {sessions} judged session{}.",
            if sessions == 1 { "" } else { "s" }
        ),
        means: "The baseline has fewer than three sessions: a rise after it may be growth, or a low start by chance, as well as treatment.",
        advice: "Read the change as one between these recordings, and record at least three sessions before treating the next child.",
        rule: "Fewer than three judged sessions before treatment (What Works Clearinghouse, single-case standards 4.0: three points with reservations, five without).",
    })
}

fn rising(child: &str, phase: &str, baseline: &[(f64, f64)], smallest: f64) -> Option<Warning> {
    let rise = rise(baseline)?;
    let climbs = baseline
        .windows(2)
        .all(|pair| matches!(pair, [before, after] if before.1 < after.1));
    let enough = if climbs { smallest / 2.0 } else { smallest };
    // A rise of just as much is one, whatever the last digits of its arithmetic.
    (rise + 1e-9 >= enough).then(|| Warning {
        concern: Concern::RisingBaseline,
        child: Some(child.to_owned()),
        found: format!(
            "The {phase} of {child} rises by {} points from its first to its last session{}.",
            whole_points(rise),
            if climbs {
                ", each of them better than the one before"
            } else {
                ""
            }
        ),
        means: "The sound was getting better before treatment began: growth, or practice with the probe, may go on and look like treatment.",
        advice: "Look at untreated words and at children whose treatment starts later before the change is put down to treatment.",
        rule: "The straight line of least squares through three or more baseline sessions rises, from the first to the last, by the smallest change that matters or more, or by half of it where each session lies above the one before (rule ours; that a rising baseline be warned of: What Works Clearinghouse; SCRIBE 2016).",
    })
}

/// How far the line of least squares rises from the first to the last point; nothing below three points.
fn rise(points: &[(f64, f64)]) -> Option<f64> {
    if points.len() < FEWEST_SESSIONS {
        return None;
    }
    let n = points.len() as f64;
    let x = points.iter().map(|p| p.0).sum::<f64>() / n;
    let y = points.iter().map(|p| p.1).sum::<f64>() / n;
    let across: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let along: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    let span = points.last()?.0 - points.first()?.0;
    (across > 0.0).then(|| along / across * span)
}

fn low_start(child: &str, phase: &str, baseline: &[(f64, f64)], smallest: f64) -> Option<Warning> {
    let (first, rest) = baseline.split_first()?;
    if baseline.len() < FEWEST_SESSIONS {
        return None;
    }
    let mean = rest.iter().map(|p| p.1).sum::<f64>() / rest.len() as f64;
    (mean - first.1 >= smallest).then(|| Warning {
        concern: Concern::LowStart,
        child: Some(child.to_owned()),
        found: format!(
            "The first session of {child}'s {phase} lies {} points below the mean of its other sessions.",
            whole_points(mean - first.1)
        ),
        means: "Whoever is chosen for a low score scores higher the next time by chance alone (regression to the mean); that first session makes the change look larger.",
        advice: "If the children were chosen by their scores, say so in the report, and look at the change from the later baseline sessions.",
        rule: "The first of three or more baseline sessions lies below the mean of the others by the smallest change that matters or more (ours).",
    })
}

/// One for each child who was chosen because she scored low.
fn chosen_low(record: &RoundRecord) -> Vec<Warning> {
    let scored = record
        .tokens
        .iter()
        .filter(|token| token.key.use_ == Use::Scored && !token.link);
    let children: BTreeMap<_, _> = scored
        .filter_map(|token| Some((token.key.child.as_ref()?, token.key.cohort.as_ref())))
        .collect();
    let chosen = &record.settings.chosen_for_low_scores;
    let chosen = children
        .into_iter()
        .filter(|(_, cohort)| chosen.holds(*cohort));
    chosen
        .map(|(child, _)| Warning {
            concern: Concern::ChosenLow,
            child: Some(child.to_string()),
            found: format!("{child} was chosen because of a low score."),
            means: "Whoever is chosen for a low score scores higher the next time by chance alone (regression to the mean): part of a rise may be no change at all.",
            advice: "Leave out the score by which she was chosen, and hold the change against children who were chosen alike and not treated yet.",
            rule: "The study's settings say that the children of this cohort were chosen for low scores (Bland & Altman 1994, BMJ 308, 1499; Barnett, van der Pols & Dobson 2005, Int J Epidemiol 34, 215–220).",
        })
        .collect()
}

fn unequal_lists(outcome: &Outcome, child: &str) -> Option<Warning> {
    let lists = outcome.unequal_lists.iter().find(|l| l.child == child)?;
    Some(Warning {
        concern: Concern::UnequalLists,
        child: Some(child.to_owned()),
        found: format!(
            "The sessions of {child} do not hold the same words: {} in common.",
            match lists.common {
                0 => "none".to_owned(),
                1 => "1 word".to_owned(),
                n => format!("{n} words"),
            }
        ),
        means: "Easier or harder words may have come or gone: part of the change may be one of the words.",
        advice: "Read the change on the common words beside it, and keep to one list at every session.",
        rule: "Two sessions of the comparison hold different words (single-case practice: the same material at every probe).",
    })
}

fn room(record: &RoundRecord) -> Vec<Warning> {
    let recorded: Vec<PhaseRecording> = record
        .tokens
        .iter()
        .filter(|token| token.key.use_ == Use::Scored && !token.link)
        .filter_map(|token| {
            Some(PhaseRecording {
                child: token.key.child.clone()?,
                phase: token.key.phase.clone()?,
                snr_db: token.snr_db,
                bandwidth_hz: token.bandwidth_hz,
                recorded_lufs: token.level_lufs - token.gain_db,
                seconds: token.seconds,
            })
        })
        .collect();
    let compared = compare_phases(&recorded, &record.settings.phases);
    let telling = compared.iter().flat_map(|one| {
        let told = one.pairs.iter().filter(|pair| pair.tells);
        told.map(|pair| (one.measure, pair))
    });
    telling
        .map(|(measure, pair)| {
            let more = pair.later_has_more.unwrap_or(0.5);
            let (word, share) = if more >= 0.5 {
                ("more", more)
            } else {
                ("less", 1.0 - more)
            };
            Warning {
                concern: Concern::RoomTells,
                child: None,
                found: format!(
                    "The recordings tell {} from {} by {}: in {}% of pairs of one child's words the later one has {word}.",
                    pair.to,
                    pair.from,
                    heard_by(measure),
                    (share * 100.0).round(),
                ),
                means: "A listener who hears the room or the device may know early from late, though nobody told her.",
                advice: "Record with the same device, place and distance at every session; hold this change against that of recordings that sound alike.",
                rule: "In three of four pairs of one child's words or more the same phase has more, and the medians differ by what an attentive ear notices: 3 dB, 1 kHz or 0.1 s (ours; that it be looked at: GRRAS, item 8; CONSORT 2025, item 20b).",
            }
        })
        .collect()
}

fn heard_by(measure: RoomMeasure) -> &'static str {
    match measure {
        RoomMeasure::Noise => "how far speech stands over the noise",
        RoomMeasure::Bandwidth => "how high they reach",
        RoomMeasure::Level => "how loud they were recorded",
        RoomMeasure::Length => "how long they are",
    }
}

fn small_panel(record: &RoundRecord, kept: &Ratings) -> Option<Warning> {
    let main = || kept.of_kind(PresentationKind::Main);
    let mut items: Vec<u32> = main().map(|row| row.item).collect();
    items.sort_unstable();
    items.dedup();
    let each = main().count() as f64 / items.len().max(1) as f64;
    let (enough, who) = match record.plan.listeners.kind {
        ListenerKind::Naive => (ENOUGH_NAIVE, "naive listeners"),
        ListenerKind::Expert => (ENOUGH_EXPERTS, "experts"),
    };
    (each + 0.05 < enough).then(|| Warning {
        concern: Concern::SmallPanel,
        child: None,
        found: format!(
            "Each word was heard by {} {who} of the panel on average.",
            format!("{each:.1}").trim_end_matches(".0")
        ),
        means: "So few ears may lean one way together; the limits allow for it, but another panel may hear otherwise.",
        advice: "Invite more listeners in the next round; do not discharge a child on this panel alone.",
        rule: "Fewer than 9 naive listeners or 3 experts a word (9 naive listeners' majority equalled that of 3 trained ones for one distorted sound: J Commun Disord 2015).",
    })
}

/// How many of the panel answered whether they could tell early from late, and how many said often or sometimes.
pub(super) fn who_could_tell(record: &RoundRecord, kept: &Ratings) -> [u64; 2] {
    let judged = |code: &str| {
        let rater = kept.raters.find(code);
        rater.is_some_and(|rater| kept.rows.iter().any(|row| row.rater == rater))
    };
    let mut counts = [0, 0];
    for answer in record
        .answers
        .iter()
        .filter(|answer| answer.question == "told-early-from-late")
        .filter(|answer| judged(answer.listener.as_str()))
    {
        counts[0] += 1;
        counts[1] += u64::from(answer.answer != "no");
    }
    counts
}

fn phases_guessed(record: &RoundRecord, kept: &Ratings) -> Option<Warning> {
    let [asked, could] = who_could_tell(record, kept);
    let before = could.checked_sub(1)?;
    let by_chance = Binomial::new(asked, 0.5).ok()?.sf(before);
    (by_chance <= RARE).then(|| Warning {
        concern: Concern::PhasesGuessed,
        child: None,
        found: format!(
            "Of {asked} listeners of the panel who were asked, {could} said that they could tell early from late recordings, often or sometimes."
        ),
        means: "They may have been less blind than planned, and may have heard what they expected.",
        advice: "Look for what told them (room, device, a growing child), and give the change more weight where a panel could not tell.",
        rule: "More of the panel say often or sometimes than a fair coin would give in one of twenty panels: exact binomial test, one-sided, p ≤ .05 (rule ours; that listeners be asked: CONSORT tradition).",
    })
}

fn voices_known(record: &RoundRecord, kept: &Ratings) -> Option<Warning> {
    let counted = record.presentations.iter().filter(|row| {
        row.known_speaker
            && row.kind == PresentationKind::Main
            && row.answer.is_some()
            && kept
                .raters
                .find(row.listener.as_str())
                .is_some_and(|rater| kept.rows.iter().any(|judged| judged.rater == rater))
    });
    let n = counted.count();
    (n > 0).then(|| Warning {
        concern: Concern::VoiceKnown,
        child: None,
        found: format!(
            "{n} judgement{} of the panel {} of a child whose voice the listener later said she knew.",
            if n == 1 { "" } else { "s" },
            if n == 1 { "is" } else { "are" }
        ),
        means: "Whoever knows a child hears more than the word.",
        advice: "Nothing was taken out: the report's ratings.csv marks these judgements (known_speaker), so that the outcome can be computed without them.",
        rule: "Any judgement that counts and is flagged so (GRRAS, items on prior knowledge).",
    })
}

fn whole_points(share: f64) -> String {
    format!("{:.0}", (share * 100.0).round())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_baseline_rises_by_its_line_of_least_squares() {
        // By hand: y = 1, 2, 2, 3 over x = 1, 2, 3, 4 has the slope 3/5, so it rises by 9/5 over three steps.
        let points = [(1.0, 0.1), (2.0, 0.2), (3.0, 0.2), (4.0, 0.3)];
        assert!((rise(&points).unwrap() - 0.18).abs() < 1e-12);
        assert!(rising("C01", "baseline", &points, 0.15).is_some());
        assert!(rising("C01", "baseline", &points, 0.20).is_none());
        // 1, 2, 3 climb by the line's 2/10 over two steps: half of the smallest change is enough.
        let climbing = [(1.0, 0.1), (2.0, 0.2), (3.0, 0.3)];
        let said = rising("C01", "baseline", &climbing, 0.4).unwrap();
        assert!(said.found.contains("20 points") && said.found.contains("each of them better"));
        assert!(rising("C01", "baseline", &climbing, 0.41).is_none());
        // Two points tell no trend, and a fall is none.
        assert!(rising("C01", "baseline", &points[2..], 0.05).is_none());
        let falling = [(1.0, 0.6), (2.0, 0.4), (3.0, 0.2)];
        assert!(rising("C01", "baseline", &falling, 0.05).is_none());
    }

    #[test]
    fn a_first_session_far_below_the_others_is_a_low_start() {
        let low = [(1.0, 0.10), (2.0, 0.35), (3.0, 0.25)];
        let said = low_start("C01", "baseline", &low, 0.15).unwrap();
        assert!(said.found.contains("20 points below"), "{}", said.found);
        assert!(
            low_start(
                "C01",
                "baseline",
                &[(1.0, 0.3), (2.0, 0.3), (3.0, 0.3)],
                0.15
            )
            .is_none()
        );
        assert!(low_start("C01", "baseline", &low[..2], 0.15).is_none());
    }

    #[test]
    fn two_sessions_before_treatment_are_a_short_baseline() {
        assert!(short_baseline("C01", "baseline", 3).is_none());
        assert!(short_baseline("C01", "baseline", 2).is_some());
    }
}
