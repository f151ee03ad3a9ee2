//! NAP with its scores and sessions resampled, each score carrying its own error.

use rand::Rng;
use rand::RngExt;
use rand_distr::StandardNormal;

use crate::stats::change::Better;
use crate::stats::change::nap_value;

/// One phase of scores, each with the standard error that it has on the logit scale; 0 where it is exact.
pub(in crate::analysis) struct Scores<'a> {
    /// The scores; shares where they carry errors.
    pub(in crate::analysis) values: &'a [f64],
    /// Their errors.
    pub(in crate::analysis) errors: &'a [f64],
}

/// The percentile interval of NAP over `draws` resamples; nothing without draws or scores.
///
/// In each draw the sessions of a phase are drawn anew with replacement, and a score that carries an error is moved by a
/// normal deviate on the logit scale: sessions are a sample of days, and a score is not exact. For comparison
/// with Newcombe's interval; with three sessions a phase it is rough.
pub(in crate::analysis) fn resampled_nap(
    from: &Scores<'_>,
    to: &Scores<'_>,
    better: Better,
    draws: u32,
    confidence: f64,
    rng: &mut impl Rng,
) -> Option<[f64; 2]> {
    if draws == 0 || from.values.is_empty() || to.values.is_empty() {
        return None;
    }
    // NAP asks only which score is higher, and logits stand in the same order as shares.
    let errors = from.errors.iter().chain(to.errors);
    let scale = if errors.copied().any(|error| error > 0.0) {
        logit
    } else {
        |value| value
    };
    let (from, to) = (from.on(scale), to.on(scale));
    let mut earlier = vec![0.0; from.len()];
    let mut later = vec![0.0; to.len()];
    let mut naps: Vec<f64> = (0..draws)
        .map(|_| {
            redraw(&from, &mut earlier, rng);
            redraw(&to, &mut later, rng);
            nap_value(&earlier, &mut later, better)
        })
        .collect();
    naps.sort_unstable_by(f64::total_cmp);
    let tail = (1.0 - confidence) / 2.0;
    Some([at_share(&naps, tail), at_share(&naps, 1.0 - tail)])
}

/// A score as it is drawn: its place on the scale, and its error there; 0 where it is exact.
#[derive(Clone, Copy)]
struct Drawn {
    mean: f64,
    error: f64,
}

impl Scores<'_> {
    fn on(&self, scale: fn(f64) -> f64) -> Vec<Drawn> {
        let errors = self.errors.iter().chain(std::iter::repeat(&0.0));
        let scores = self.values.iter().zip(errors);
        scores
            .map(|(&value, &error)| Drawn {
                mean: scale(value),
                error,
            })
            .collect()
    }
}

fn logit(share: f64) -> f64 {
    (share / (1.0 - share)).ln()
}

fn redraw(scores: &[Drawn], into: &mut [f64], rng: &mut impl Rng) {
    for place in into {
        let drawn = rng.random_range(0..scores.len());
        *place = match scores.get(drawn) {
            Some(drawn) if drawn.error > 0.0 => {
                let deviate: f64 = rng.sample(StandardNormal);
                drawn.mean + drawn.error * deviate
            }
            Some(drawn) => drawn.mean,
            None => f64::NAN,
        };
    }
}

/// The value below which a share of the sorted values lies, by linear interpolation.
fn at_share(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len() as f64 - 1.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a list, between 0 and its length"
    )]
    let below = place.floor() as usize;
    let low = sorted.get(below).copied().unwrap_or(f64::NAN);
    let high = sorted.get(below + 1).copied().unwrap_or(low);
    low + (high - low) * (place - place.floor())
}
