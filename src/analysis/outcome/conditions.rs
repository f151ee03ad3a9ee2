//! Two ways of treating that alternate within a child: the sessions under one beside those under the other.

use serde::Serialize;

use super::OutcomeOptions;
use super::Words;
use super::changes::ENOUGH_SESSIONS;
use super::joined::View;
use crate::analysis::Reasons;
use crate::stats::interval::Reading;

/// A child's two conditions beside each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConditionsFinding {
    /// The child's code.
    pub child: String,
    /// The first condition.
    pub from: String,
    /// The second.
    pub to: String,
    /// Which words count.
    pub words: Words,
    /// Sessions under the first.
    pub sessions_from: usize,
    /// Sessions under the second.
    pub sessions_to: usize,
    /// Mean accuracy under the first.
    pub mean_from: Option<f64>,
    /// Mean accuracy under the second.
    pub mean_to: Option<f64>,
    /// Second less first.
    pub difference: Option<f64>,
    /// Of the child where both have three sessions, else between these recordings.
    pub ci: Option<[f64; 2]>,
    /// The minimal detectable difference of this design.
    pub mdc95: Option<f64>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// The conditions of every child who was treated under two in the later phase; peers are left out.
///
/// `order`: the first and the second condition where a draw names them; else as the sessions name them.
pub(super) fn conditions(
    view: &View<'_>,
    options: &OutcomeOptions,
    order: &[String],
) -> Vec<ConditionsFinding> {
    let tokens = view.joined.tokens;
    let seen = tokens.conditions.names();
    let names = if order.len() == 2 { order } else { seen };
    let ([first, second], Some(later)) = (names, tokens.phases.find(&options.treatment)) else {
        return Vec::new();
    };
    (0..)
        .zip(tokens.children.names())
        .filter_map(|(child, code)| {
            let under = |condition: &str| -> Vec<usize> {
                let own = view
                    .joined
                    .sessions
                    .iter()
                    .enumerate()
                    .filter(|(_, session)| {
                        (session.child, session.phase, session.peer) == (child, later, false)
                    });
                own.filter(|(number, _)| view.condition_of(*number) == Some(condition))
                    .map(|(number, _)| number)
                    .collect()
            };
            let (from, to) = (under(first), under(second));
            (!from.is_empty() && !to.is_empty()).then(|| {
                let mut found = beside(view, options, &from, &to);
                code.clone_into(&mut found.child);
                first.clone_into(&mut found.from);
                second.clone_into(&mut found.to);
                found
            })
        })
        .collect()
}

fn beside(
    view: &View<'_>,
    options: &OutcomeOptions,
    from: &[usize],
    to: &[usize],
) -> ConditionsFinding {
    let mut reasons = Reasons::new();
    let reading = if from.len().min(to.len()) >= ENOUGH_SESSIONS {
        Reading::Child
    } else {
        Reading::TheseDays
    };
    let round = view.round.as_ref().map_err(|refusal| *refusal);
    let interval = round.and_then(|round| round.change(from, to, reading, options.confidence));
    if let Err(refusal) = interval {
        for field in ["ci", "mdc95"] {
            reasons.say(field, refusal);
        }
    }
    let mean = |sessions: &[usize]| {
        let scores = sessions
            .iter()
            .map(|s| view.round.as_ref().ok()?.estimate(*s));
        let scores = scores.collect::<Option<Vec<f64>>>()?;
        Some(scores.iter().sum::<f64>() / scores.len() as f64)
    };
    let (mean_from, mean_to) = (mean(from), mean(to));
    let interval = interval.ok();
    ConditionsFinding {
        child: String::new(),
        from: String::new(),
        to: String::new(),
        words: view.words,
        sessions_from: from.len(),
        sessions_to: to.len(),
        mean_from,
        mean_to,
        difference: mean_from.zip(mean_to).map(|(from, to)| to - from),
        ci: interval.map(|i| [i.low, i.high]),
        mdc95: interval.map(|i| i.mdc95),
        reasons,
    }
}
