//! How sure a coefficient of agreement is: over samples of items, and over samples of raters too.

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rand_distr::Binomial;
use rand_distr::Distribution;
use rayon::prelude::*;

use super::super::Undefined;
use super::super::table::Table;
use super::super::tally::Tally;
use super::super::tally::Weighted;
use super::krippendorff::AlphaScale;
use super::krippendorff::Workspace;
use super::krippendorff::krippendorff_alpha;

/// Below this many raters nothing can be said about raters like them.
const FEWEST_RATERS: usize = 5;

/// Alpha over `replicates` resamples of the items, sorted; resamples in which it does not exist are left out.
///
/// Items are drawn with replacement, as many as there are; each replicate has its own stream of the generator, so the values do not
/// depend on how many threads there are. Percentiles of these are the interval that Zapf et al. (2016), BMC Med. Res. Methodol. 16:93,
/// found sound; Krippendorff's own resampling of single pairs is too narrow.
pub fn resampled_alphas(
    tally: &Tally,
    scale: AlphaScale<'_>,
    replicates: u32,
    seed: u64,
) -> Vec<f64> {
    let items: f64 = tally.weights().iter().sum();
    let mut values: Vec<f64> = (0..replicates)
        .into_par_iter()
        .map_init(
            || (Workspace::default(), Vec::new()),
            |(workspace, weights), replicate| {
                let mut generator = ChaCha12Rng::seed_from_u64(seed);
                generator.set_stream(u64::from(replicate));
                draw_items(tally.weights(), items, &mut generator, weights);
                krippendorff_alpha(tally.with_weights(weights), scale, workspace).ok()
            },
        )
        .flatten()
        .collect();
    values.sort_unstable_by(f64::total_cmp);
    values
}

/// Draws `items` items with replacement: a multinomial over the patterns, one binomial after another.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "weights are counts of items"
)]
fn draw_items(weights: &[f64], items: f64, generator: &mut ChaCha12Rng, drawn: &mut Vec<f64>) {
    drawn.clear();
    let mut to_draw = items.round() as u64;
    let mut left = items;
    drawn.extend(weights.iter().map(|&weight| {
        if weight <= 0.0 || to_draw == 0 {
            return 0.0;
        }
        let share = (weight / left).min(1.0);
        left -= weight;
        let count = Binomial::new(to_draw, share)
            .map_or(to_draw, |binomial| binomial.sample(generator).min(to_draw));
        to_draw -= count;
        count as f64
    }));
}

/// The variance of a coefficient over samples of raters, these items given: the jackknife over raters.
///
/// ```text
/// v = (r − 1)/r · Σ_g (θ_(g) − θ̄_(·))²,   θ_(g): the coefficient without rater g
/// ```
///
/// Leaving out never puts two copies of one rater side by side, as a resampling of raters would: such copies agree with each
/// other always, and push three raters' .22 to .48. Gwet (2008), Psychometrika 73, 407–430.
///
/// # Errors
/// [`Undefined::FewRaters`] below five raters, [`Undefined::RaterNeeded`] where the coefficient does not exist without one of them.
pub fn rater_variance(
    table: &Table,
    tally: &Tally,
    coefficient: impl Fn(Weighted<'_>, &mut Workspace) -> Result<f64, Undefined> + Sync,
) -> Result<f64, Undefined> {
    let raters: Vec<_> = table
        .by_rater()
        .into_iter()
        .filter(|judged| !judged.is_empty())
        .collect();
    if raters.len() < FEWEST_RATERS {
        return Err(Undefined::FewRaters);
    }
    let without: Vec<f64> = raters
        .par_iter()
        .map_init(
            || (Workspace::default(), Vec::new()),
            |(workspace, weights), judged| {
                tally.take_away(judged, weights);
                coefficient(tally.with_weights(weights), workspace)
            },
        )
        .collect::<Result<_, _>>()
        .map_err(|_| Undefined::RaterNeeded)?;
    let r = without.len() as f64;
    let mean = without.iter().sum::<f64>() / r;
    let squares: f64 = without.iter().map(|value| (value - mean).powi(2)).sum();
    Ok((r - 1.0) / r * squares)
}

/// A variance made of two independent parts, with Satterthwaite's degrees of freedom.
///
/// The parts over items and over raters each hold the chance of single judgements, so their sum errs on the wide side.
pub fn both_variance(over_items: f64, items: f64, over_raters: f64, raters: f64) -> (f64, f64) {
    let sum = over_items + over_raters;
    let shares =
        over_items * over_items / (items - 1.0) + over_raters * over_raters / (raters - 1.0);
    let df = if shares > 0.0 {
        sum * sum / shares
    } else {
        items - 1.0
    };
    (sum, df)
}
