//! A randomisation test over a draw whose parts add up.

use rand::Rng;
use rand::RngExt;

use super::RandomisationTest;
use super::draws::Draws;
use crate::stats::change::ChangeError;
use crate::stats::change::permutation::DRAWS;
use crate::stats::change::permutation::MOST_LISTED;
use crate::stats::change::permutation::Tally;
use crate::stats::change::permutation::cross_sum;

/// A randomisation test of a statistic that is a sum over the parts of a draw.
///
/// `value(i, way)`: what part `i` adds where it falls out that way, above 0 for the better. Every way is counted, each
/// as often as it was likely; the one that was drawn and all ties count (≥, with a guard for rounding). Above 10⁶
/// draws a hundred thousand are drawn with `rng`, and p is (b + 1)/(B + 1). Edgington & Onghena (2007), ch. 2 and 4.
///
/// # Errors
/// [`ChangeError::NotPossible`] where `drawn` is none of the draws, or has no statistic.
pub fn drawn_test(
    draws: &Draws,
    drawn: &[Vec<usize>],
    value: impl Fn(usize, &[usize]) -> f64,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let sum = |ways: &[Vec<usize>]| -> f64 {
        let parts = ways.iter().enumerate();
        parts.map(|(part, way)| value(part, way)).sum()
    };
    let observed = sum(drawn);
    if !draws.allows(drawn) || !observed.is_finite() {
        return Err(ChangeError::NotPossible);
    }
    let count = draws.count();
    let tally = if count <= MOST_LISTED {
        let mut sums = vec![0.0];
        for (part, ways) in draws.parts().iter().enumerate() {
            let mut values = Vec::new();
            ways.each(|way| values.push(value(part, way)));
            sums = cross_sum(&sums, &values);
        }
        Tally::of(observed, sums.into_iter())
    } else {
        let any = (0..DRAWS).map(|_| sum(&draws.draw(|n| rng.random_range(0..n.max(1)))));
        Tally::of(observed, any)
    };
    Ok(RandomisationTest::new(
        &tally,
        observed,
        count,
        draws.is_mirrored(),
    ))
}
