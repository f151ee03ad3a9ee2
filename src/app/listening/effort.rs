//! What listening asks of a listener, told before anything else.

use crate::store::RoundTokenRow;
use crate::study::Plan;

/// What listening asks of a listener.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Sittings that she may do, as far as there are words for them.
    pub sittings: u32,
    /// Words that she is asked about in a sitting, all kinds together, at most.
    pub words: u32,
    /// About how many bytes of sound a sitting loads.
    pub sound_bytes: u64,
    /// Words from one rest to the next; 0: no rests.
    pub rest_every: u32,
    /// Words that she answers on one day; 0: as many as there are.
    pub words_a_day: u32,
    /// Minutes that she judges on one day; 0: as many as it takes.
    pub minutes_a_day: u32,
}

impl Effort {
    pub(super) fn of(plan: &Plan, tokens: &[RoundTokenRow]) -> Self {
        let sitting = &plan.sitting;
        let scored = tokens
            .iter()
            .filter(|token| token.stratum.is_some() && token.in_use)
            .count();
        let scored = u32::try_from(scored).unwrap_or(u32::MAX);
        let main = scored.min(sitting.tokens);
        let repeats = u32::try_from(plan.repeats_among(main as usize)).unwrap_or(0);
        let parts = u32::try_from(plan.targets.len()).unwrap_or(1).max(1);
        let words = main + repeats + sitting.checks + sitting.warm_up + sitting.practice * parts;
        let seconds: f64 = tokens.iter().map(|token| token.seconds).sum();
        let mean = if tokens.is_empty() {
            0.0
        } else {
            seconds / tokens.len() as f64
        };
        Self {
            sittings: plan
                .listeners
                .sittings
                .min(scored.div_ceil(main.max(1)))
                .max(1),
            words,
            sound_bytes: sound_bytes(mean * f64::from(words)),
            rest_every: plan.rests.every,
            words_a_day: plan.rests.words_a_day,
            minutes_a_day: plan.rests.minutes_a_day,
        }
    }
}

/// Bytes of 16-bit samples at 48 kHz, which FLAC packs to about a third.
fn sound_bytes(seconds: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length in seconds is small and not negative"
    )]
    {
        (seconds * 32_000.0).round() as u64
    }
}
