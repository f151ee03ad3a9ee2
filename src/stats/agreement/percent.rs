//! Percent agreement.

use super::super::Undefined;
use super::super::tally::Weighted;

/// Percent agreement with what its interval needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentAgreement {
    /// The mean over items of the share of pairs of judgements that are equal.
    pub estimate: f64,
    /// Its variance over samples of items, these raters given; `None` for one item.
    pub variance: Option<f64>,
    /// Items with two or more judgements.
    pub items: f64,
}

/// Percent agreement: of two raters who judged the same item, how often do they say the same?
///
/// ```text
/// p_a = (1/n′) Σ_i Σ_c r_ic(r_ic − 1) / (r_i(r_i − 1))
/// ```
///
/// `r_ic`: judgements of item i in category c; `r_i`: all of them; `n′`: items with two or more. Items with one
/// judgement say nothing about agreement and are left out. From 0 to 1, no unit; what raters would reach by chance
/// is not taken away. The variance is that of a mean of `n′` items.
///
/// Fleiss (1971), Psychol. Bull. 76, 378–382, equation 2, in the form of Gwet (2014) for unequal numbers of judgements.
///
/// # Errors
/// [`Undefined::NoPairs`] where no item has two judgements.
pub fn percent_agreement(tally: Weighted<'_>) -> Result<PercentAgreement, Undefined> {
    let (mut items, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for (weight, pattern) in tally.pairable() {
        let agreed = agreed_share(&pattern.counts, pattern.judgements);
        items += weight;
        sum += weight * agreed;
        squares += weight * agreed * agreed;
    }
    if items <= 0.0 {
        return Err(Undefined::NoPairs);
    }
    let estimate = sum / items;
    let spread = (squares - sum * estimate).max(0.0);
    Ok(PercentAgreement {
        estimate,
        variance: (items > 1.0).then(|| spread / (items - 1.0) / items),
        items,
    })
}

/// The share of an item's pairs of judgements that are equal.
pub(super) fn agreed_share(counts: &[(u32, f64)], judgements: f64) -> f64 {
    let equal: f64 = counts.iter().map(|(_, r)| r * (r - 1.0)).sum();
    equal / (judgements * (judgements - 1.0))
}
