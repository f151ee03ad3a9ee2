//! Each session's accuracy with its interval, and what the majority makes of its tokens.

use rayon::prelude::*;

use super::super::Reasons;
use super::OutcomeOptions;
use super::SessionFinding;
use super::joined::View;
use crate::stats::proportion::wilson;

/// Every session of the view, in order.
pub(super) fn sessions(view: &View<'_>, options: &OutcomeOptions) -> Vec<SessionFinding> {
    (0..view.joined.sessions.len())
        .into_par_iter()
        .filter_map(|index| session(view, index, options))
        .collect()
}

fn session(view: &View<'_>, index: usize, options: &OutcomeOptions) -> Option<SessionFinding> {
    let tables = view.joined.tokens;
    let place = view.joined.sessions.get(index)?;
    let heard = view.tokens_of(index);
    let mut reasons = Reasons::new();
    let round = view.round.as_ref().map_err(|refusal| *refusal);
    let interval = round.and_then(|round| round.session(index, options.confidence));
    let proportion_correct = view
        .round
        .as_ref()
        .ok()
        .and_then(|round| round.estimate(index));
    if heard.is_empty() {
        reasons.say("proportion_correct", "the session has no judgement");
        reasons.say("consensus_accuracy", "the session has no judgement");
    }
    if let Err(refusal) = interval {
        reasons.say("ci", refusal);
        reasons.say("effective_n", refusal);
    }
    let majorities: Vec<f64> = heard
        .iter()
        .map(super::joined::HeardToken::majority)
        .collect();
    let tokens = heard.len();
    let agreed: f64 = majorities.iter().sum();
    let tied = heard
        .iter()
        .zip(&majorities)
        .filter(|(_, majority)| (**majority - 0.5).abs() < 0.1);
    let tied_tokens: Vec<String> = tied
        .map(|(token, _)| tables.tokens.name(token.token).to_owned())
        .collect();
    Some(SessionFinding {
        child: tables.children.name(place.child).to_owned(),
        session: place.number,
        phase: tables.phases.name(place.phase).to_owned(),
        words: view.words,
        tokens,
        judgements: heard.iter().map(|token| token.judgements).sum(),
        proportion_correct,
        ci: interval.ok().map(|interval| [interval.low, interval.high]),
        effective_n: interval.ok().map(|interval| interval.effective_n),
        consensus_accuracy: (tokens > 0).then(|| agreed / tokens as f64),
        consensus_ci: (tokens > 0).then(|| wilson(agreed, tokens as f64, options.confidence)),
        ties: tied_tokens.len(),
        tied_tokens,
        peer: place.peer,
        condition: view.condition_of(index).map(str::to_owned),
        reasons,
    })
}
