//! What the chance-corrected coefficients of Gwet's family have in common: observed, expected, and the error over items.

use super::super::Undefined;
use super::super::tally::Pattern;
use super::super::tally::Weighted;
use super::percent::agreed_share;
use super::percent::percent_agreement;

/// A coefficient (observed − expected)/(1 − expected) with its error over samples of items.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChanceCorrected {
    /// The coefficient.
    pub estimate: f64,
    /// Agreement seen: over items with two or more judgements.
    pub observed: f64,
    /// Agreement that chance would give, as the coefficient understands chance.
    pub expected: f64,
    /// Variance over samples of items, these raters given; `None` for one item.
    pub variance: Option<f64>,
    /// Items with at least one judgement; the interval has one degree of freedom less.
    pub items: f64,
}

/// Refuses judgements of which no two can agree, then a scale of one category.
pub(super) fn check_scale(tally: Weighted<'_>) -> Result<(), Undefined> {
    if tally.pairable().next().is_none() {
        return Err(Undefined::NoPairs);
    }
    if tally.n_categories < 2 {
        return Err(Undefined::OneCategoryScale);
    }
    Ok(())
}

/// Items with at least one judgement, and the mean over them of the share of each category.
pub(super) fn category_shares(tally: Weighted<'_>) -> Result<(f64, Vec<f64>), Undefined> {
    let mut shares = vec![0.0; tally.n_categories];
    let mut items = 0.0;
    for (weight, pattern) in tally.rows().filter(|(_, p)| p.judgements > 0.0) {
        items += weight;
        for &(category, count) in &pattern.counts {
            if let Some(share) = shares.get_mut(category as usize) {
                *share += weight * count / pattern.judgements;
            }
        }
    }
    if items <= 0.0 {
        return Err(Undefined::NoJudgements);
    }
    for share in &mut shares {
        *share /= items;
    }
    Ok((items, shares))
}

/// The coefficient and its error by the linearisation of Gwet (2008, 2014): each item contributes
///
/// ```text
/// γ*_i = (n/n′)(p_a|i − p_e·[r_i ≥ 2])/(1 − p_e) − 2(1 − γ)(p_e|i − p_e)/(1 − p_e)
/// v = Σ_i (γ*_i − γ)² / (n(n − 1))
/// ```
///
/// `expected_of` gives `p_e|i`, an item's own contribution to chance agreement; it equals `expected` where chance does not
/// depend on the data.
pub(super) fn chance_corrected(
    tally: Weighted<'_>,
    items: f64,
    expected: f64,
    expected_of: impl Fn(&Pattern) -> f64,
) -> Result<ChanceCorrected, Undefined> {
    let percent = percent_agreement(tally)?;
    let beyond = 1.0 - expected;
    if beyond <= f64::EPSILON {
        return Err(Undefined::OneCategory);
    }
    let estimate = (percent.estimate - expected) / beyond;
    let squares: f64 = tally
        .rows()
        .filter(|(_, pattern)| pattern.judgements > 0.0)
        .map(|(weight, pattern)| {
            let seen = if pattern.judgements >= 2.0 {
                agreed_share(&pattern.counts, pattern.judgements) - expected
            } else {
                0.0
            };
            let own = items / percent.items * seen / beyond
                - 2.0 * (1.0 - estimate) * (expected_of(pattern) - expected) / beyond;
            weight * (own - estimate).powi(2)
        })
        .sum();
    Ok(ChanceCorrected {
        estimate,
        observed: percent.estimate,
        expected,
        variance: (items > 1.0).then(|| squares / (items * (items - 1.0))),
        items,
    })
}

/// The mean over an item's judgements of a number a category.
pub(super) fn mean_over(pattern: &Pattern, of_category: &[f64]) -> f64 {
    let sum: f64 = pattern
        .counts
        .iter()
        .map(|&(category, count)| {
            count * of_category.get(category as usize).copied().unwrap_or(0.0)
        })
        .sum();
    sum / pattern.judgements
}
