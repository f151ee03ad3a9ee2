//! The rules while a listener still judges: she is let go only when nothing that she may still say could make her pass.

use super::super::Undefined;
use super::super::proportion::wilson;
use super::repeats::Repeats;
use super::rule::Rule;
use super::signals::Signals;

/// What a listener may still judge, at most.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Remaining {
    /// Main words.
    pub main: u32,
    /// Check words.
    pub checks: u32,
    /// Words to be heard again.
    pub repeats: u32,
}

/// Why a listener can no longer pass the rules, in the words of the first that is out of reach; `None` while she can.
///
/// A rule acts here on the best that can still become of her: every remaining check right, every remaining repeat as before, every
/// remaining answer slow and of the kind that she gave less often. Stopping so is curtailment: it ends early what is decided already, so
/// whoever is let go fails the same rule on what she judged and on anything that she could have judged, and the chances of
/// [`Rule::chances`] stay as they are, however often one looks. Wetherill & Glazebrook (1986), *Sequential Methods in Statistics*, on
/// curtailed sampling (from memory).
///
/// `signals`: what she judged so far, and can no longer change. Rules on the rest of the panel and on the number of judgements do not act
/// here: the first needs the others, the second says nothing of how she listens.
pub fn out_of_reach(rules: &[Rule], signals: &Signals, remaining: &Remaining) -> Option<String> {
    let best = signals.at_best(remaining);
    rules
        .iter()
        .filter(|rule| rule.acts_live())
        .find(|rule| matches!(rule.failed_by(&best, None), Ok(Some(_))))
        .and_then(|rule| rule.failed_by(signals, None).ok().flatten())
}

impl Rule {
    /// Whether the rule looks at one listener's own listening alone.
    const fn acts_live(&self) -> bool {
        !matches!(
            self,
            Self::MinRestOfPanelAgreement { .. } | Self::MinJudgements { .. }
        )
    }
}

impl Signals {
    /// The best that can become of these signals.
    fn at_best(&self, remaining: &Remaining) -> Self {
        let (judgements, positive) = self.most_even(remaining.main);
        let mut response_times_ms = self.response_times_ms.clone();
        response_times_ms.extend((0..remaining.main).map(|_| f32::INFINITY));
        Self {
            judgements,
            positive,
            checks: self.checks + remaining.checks,
            checks_right: self.checks_right + remaining.checks,
            response_times_ms,
            repeats: at_best(self.repeats, remaining.repeats),
        }
    }

    /// Judgements, and those of them that are positive, when both answers come as near to halves as `more` can bring them. An odd
    /// number cannot be halved: then one fewer is nearer, for a sitting may end before its last word.
    fn most_even(&self, more: u32) -> (u32, u32) {
        let with = |more: u32| {
            let judgements = self.judgements + more;
            let positive = (judgements / 2).clamp(self.positive, self.positive + more);
            (judgements, positive)
        };
        let (judgements, positive) = with(more);
        let (fewer, half) = with(more.saturating_sub(1));
        if fewer > 0 && half * 2 == fewer {
            (fewer, half)
        } else {
            (judgements, positive)
        }
    }
}

fn at_best(repeats: Result<Repeats, Undefined>, more: u32) -> Result<Repeats, Undefined> {
    let (pairs, same) = repeats.map_or((0, 0), |found| (found.pairs, found.same));
    let (pairs, same) = (pairs + more, same + more);
    if pairs == 0 {
        return Err(Undefined::NoRepeats);
    }
    let (of, alike) = (f64::from(pairs), f64::from(same));
    Ok(Repeats {
        pairs,
        same,
        agreement: alike / of,
        interval: wilson(alike, of, 0.95),
        // Which answers they would be is open.
        kappa: Err(Undefined::NoRepeats),
    })
}
