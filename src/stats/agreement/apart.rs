//! On how many items a panel hears something else than on the rest: what an interval of agreement beyond chance stands on.

use super::super::tally::Weighted;
use super::chance::category_shares;

/// The share of an item's judgements outside the commonest category from which on it stands apart.
const APART: f64 = 0.25;

/// With fewer items apart than this, intervals of agreement beyond chance over samples of items are too narrow.
///
/// Found by simulation: 60 and 200 items, 5 and 9 raters, tokens of a second kind from 1 in 200 to 1 in 3. Of 95% intervals of
/// alpha and of Fleiss' kappa 33% to 42% held the truth where one item or none stood apart, 82% to 88% with two or three, about 90%
/// with four to nine, 92% or 93% with more. Agreement beyond chance lives on the few items that differ, and a sample that has hardly any of
/// them does not show how their number varies.
pub const FEWEST_APART: f64 = 10.0;

/// The number of items of which a quarter or more of the judgements lie outside the panel's commonest category.
pub fn items_apart(tally: Weighted<'_>) -> f64 {
    let Ok((_, shares)) = category_shares(tally) else {
        return 0.0;
    };
    let by_share = |one: &(usize, &f64), other: &(usize, &f64)| one.1.total_cmp(other.1);
    let commonest = shares.iter().enumerate().max_by(by_share);
    let commonest = commonest.map_or(0, |(category, _)| category);
    tally
        .rows()
        .filter(|(_, pattern)| {
            let counts = &pattern.counts;
            let usual = counts.iter().find(|(c, _)| *c as usize == commonest);
            let usual = usual.map_or(0.0, |(_, count)| *count);
            pattern.judgements > 0.0 && pattern.judgements - usual >= APART * pattern.judgements
        })
        .map(|(weight, _)| weight)
        .sum()
}
