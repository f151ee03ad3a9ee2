//! Each child's change over the contrast: interval, minimal detectable change, every measure, verdict and sentence.

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rayon::prelude::*;

use super::super::Reasons;
use super::super::effects::Phases;
use super::super::effects::effects;
use super::ChangeFinding;
use super::OutcomeOptions;
use super::joined::View;
use super::resample::Scores;
use super::resample::resampled_nap;
use super::sentence;
use super::sentence::Said;
use super::settle::Settling;
use crate::stats::change::Better;
use crate::stats::interval::ChangeInterval;
use crate::stats::interval::IntervalError;
use crate::stats::interval::Reading;
use crate::stats::interval::Round;
use crate::stats::verdict::Verdict;
use crate::stats::verdict::verdict;

/// Sessions a side from which a change is the child's and not only that of these days.
pub(super) const ENOUGH_SESSIONS: usize = 3;

/// The change of every child that has judged sessions on both sides; peers have none.
pub(super) fn changes(view: &View<'_>, options: &OutcomeOptions) -> Vec<ChangeFinding> {
    let phases = &view.joined.tokens.phases;
    let (Some(from), Some(to)) = (
        phases.find(&options.baseline),
        phases.find(&options.treatment),
    ) else {
        return Vec::new();
    };
    let children = 0..view.joined.tokens.children.len();
    children
        .into_par_iter()
        .filter_map(|child| {
            let child = u32::try_from(child).ok()?;
            let sides = Sides {
                child,
                from: judged_sessions(view, child, from, None),
                to: judged_sessions(view, child, to, options.last),
            };
            (!sides.from.is_empty() && !sides.to.is_empty()).then(|| change(view, &sides, options))
        })
        .collect()
}

/// The two sets of sessions of a child, in order of time.
struct Sides {
    child: u32,
    from: Vec<usize>,
    to: Vec<usize>,
}

/// The judged sessions of a child in a phase, in order of time; of many only the last ones where that is asked for.
pub(super) fn judged_sessions(
    view: &View<'_>,
    child: u32,
    phase: u32,
    last: Option<usize>,
) -> Vec<usize> {
    let all = view.joined.sessions.iter().enumerate();
    let own: Vec<usize> = all
        .filter(|(index, session)| {
            (session.child, session.phase, session.peer) == (child, phase, false)
                && !view.tokens_of(*index).is_empty()
        })
        .map(|(index, _)| index)
        .collect();
    let skipped = last.map_or(0, |last| own.len().saturating_sub(last));
    own.into_iter().skip(skipped).collect()
}

fn change(view: &View<'_>, sides: &Sides, options: &OutcomeOptions) -> ChangeFinding {
    let mut reasons = Reasons::new();
    let level = options.confidence;
    let fewest = sides.from.len().min(sides.to.len());
    let reading = if fewest >= ENOUGH_SESSIONS {
        Reading::Child
    } else {
        Reading::TheseDays
    };
    let round = view.round.as_ref().map_err(|refusal| *refusal);
    let contrast = round.and_then(|round| round.contrast(&sides.from, &sides.to));
    let interval = |reading| match &contrast {
        Ok(contrast) => contrast.interval(reading, level),
        Err(refusal) => Err(*refusal),
    };
    let these_days = interval(Reading::TheseDays);
    let judged_by = if reading == Reading::Child {
        interval(Reading::Child)
    } else {
        these_days
    };
    let scores = PhaseScores::new(view, sides);
    let means = scores.means();
    if let Err(refusal) = judged_by {
        for field in ["ci", "mdc95", "beyond_mdc", "verdict"] {
            reasons.say(field, refusal);
        }
    }
    if let Err(refusal) = these_days {
        reasons.say("ci_these_days", refusal);
    }
    let effects = effects(
        &Phases {
            from: &scores.from,
            to: &scores.to,
            better: Better::Higher,
            items: Some(scores.items),
            confidence: level,
            nap_resampled: scores.resampled_nap(view, sides, options),
        },
        &mut reasons,
    );
    let (verdict, sentence, settling) = judged(
        &Judging {
            view,
            sides,
            reading,
            options,
        },
        judged_by,
        means,
    );
    let tables = view.joined.tokens;
    ChangeFinding {
        child: tables.children.name(sides.child).to_owned(),
        from: options.baseline.clone(),
        to: options.treatment.clone(),
        words: view.words,
        sessions_from: sides.from.len(),
        sessions_to: sides.to.len(),
        mean_from: means.map(|[before, _]| before),
        mean_to: means.map(|[_, after]| after),
        difference: means.map(|[before, after]| after - before),
        ci: judged_by.ok().map(|i| [i.low, i.high]),
        ci_these_days: these_days.ok().map(|i| [i.low, i.high]),
        mdc95: judged_by.ok().map(|i| i.mdc95),
        mdc95_includes_sessions: reading == Reading::Child,
        beyond_mdc: judged_by.ok().map(|i| i.difference.abs() > i.mdc95),
        effects,
        verdict,
        sentence,
        settling,
        reasons,
    }
}

struct Judging<'a> {
    view: &'a View<'a>,
    sides: &'a Sides,
    reading: Reading,
    options: &'a OutcomeOptions,
}

/// The verdict's word, its sentence, and what would settle it.
fn judged(
    judging: &Judging<'_>,
    interval: Result<ChangeInterval, IntervalError>,
    means: Option<[f64; 2]>,
) -> (&'static str, String, Option<Settling>) {
    let smallest_change = judging.options.smallest_change;
    let look = judging
        .options
        .look
        .map_or_else(String::new, sentence::look);
    let (round, interval) = match (judging.view.round.as_ref(), interval) {
        (Ok(round), Ok(interval)) => (round, interval),
        (Err(&refusal), _) | (_, Err(refusal)) => {
            let said = sentence::unknown(means, refusal);
            return (word(Verdict::CannotTell), format!("{said}{look}"), None);
        }
    };
    let limits = [interval.low, interval.high];
    let verdict = verdict(interval.difference, limits, interval.mdc95, smallest_change);
    let settling = (verdict == Verdict::CannotTell).then(|| settling(judging, round, &interval));
    let said = Said {
        verdict,
        means: interval.means,
        limits,
        confidence: judging.options.confidence,
        mdc95: interval.mdc95,
        smallest_change,
        reading: judging.reading,
        sessions: [judging.sides.from.len(), judging.sides.to.len()],
        settling,
    };
    (
        word(verdict),
        format!("{}{look}", sentence::sentence(&said)),
        settling,
    )
}

fn settling(judging: &Judging<'_>, round: &Round, interval: &ChangeInterval) -> Settling {
    let sessions = judging.sides.from.iter().chain(&judging.sides.to);
    let heard: Vec<_> = sessions
        .map(|session| judging.view.tokens_of(*session))
        .collect();
    let tokens = heard.iter().map(|tokens| tokens.len()).sum::<usize>() as f64;
    let judgements = heard
        .iter()
        .copied()
        .flatten()
        .map(|token| token.judgements)
        .sum::<usize>();
    Settling::find(
        round,
        interval,
        judging.reading,
        &crate::stats::interval::Design {
            listeners: judgements as f64 / tokens,
            words: tokens / heard.len() as f64,
            sessions: [
                judging.sides.from.len() as f64,
                judging.sides.to.len() as f64,
            ],
        },
        judging.options,
    )
}

/// The verdict as the contract writes it.
pub(super) fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Improved => "improved",
        Verdict::Declined => "declined",
        Verdict::NoRelevantChange => "no_relevant_change",
        Verdict::CannotTell => "cannot_tell",
    }
}

/// The scores of the two sides in order of time.
struct PhaseScores {
    from: Vec<f64>,
    to: Vec<f64>,
    /// Words behind a score, in the mean.
    items: f64,
}

impl PhaseScores {
    fn new(view: &View<'_>, sides: &Sides) -> Self {
        let score = |session: &usize| {
            view.round
                .as_ref()
                .ok()
                .and_then(|round| round.estimate(*session))
                .unwrap_or(f64::NAN)
        };
        let sessions = sides.from.iter().chain(&sides.to);
        let tokens: usize = sessions.map(|session| view.tokens_of(*session).len()).sum();
        Self {
            from: sides.from.iter().map(score).collect(),
            to: sides.to.iter().map(score).collect(),
            items: tokens as f64 / (sides.from.len() + sides.to.len()) as f64,
        }
    }

    /// The mean of each side; nothing where a session has no score.
    fn means(&self) -> Option<[f64; 2]> {
        let mean = |scores: &[f64]| scores.iter().sum::<f64>() / scores.len() as f64;
        let means = [mean(&self.from), mean(&self.to)];
        means.iter().all(|mean| mean.is_finite()).then_some(means)
    }

    /// NAP with sessions resampled and each score moved by its own error; the same seed gives each child its own stream.
    fn resampled_nap(
        &self,
        view: &View<'_>,
        sides: &Sides,
        options: &OutcomeOptions,
    ) -> Option<[f64; 2]> {
        let round = view.round.as_ref().ok()?;
        let smoothed = |sessions: &[usize], scores: &[f64]| {
            let with_errors = sessions.iter().zip(scores).map(|(session, score)| {
                let words = view.tokens_of(*session).len() as f64;
                let x = (score * words + 0.5) / (words + 1.0);
                Some((x, round.unshared_error(*session).ok()? / (x * (1.0 - x))))
            });
            with_errors.collect::<Option<(Vec<f64>, Vec<f64>)>>()
        };
        let (from, from_errors) = smoothed(&sides.from, &self.from)?;
        let (to, to_errors) = smoothed(&sides.to, &self.to)?;
        let mut rng = ChaCha12Rng::seed_from_u64(options.seed);
        rng.set_stream(u64::from(sides.child));
        resampled_nap(
            &Scores {
                values: &from,
                errors: &from_errors,
            },
            &Scores {
                values: &to,
                errors: &to_errors,
            },
            Better::Higher,
            options.bootstrap,
            options.confidence,
            &mut rng,
        )
    }
}
