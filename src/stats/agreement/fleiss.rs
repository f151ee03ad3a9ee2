//! Fleiss' kappa, in the general form for unequal numbers of judgements.

use super::super::Undefined;
use super::super::special::normal;
use super::super::tally::Weighted;
use super::chance::ChanceCorrected;
use super::chance::category_shares;
use super::chance::chance_corrected;
use super::chance::mean_over;

/// Fleiss' kappa: agreement beyond that of raters who all use the categories with the panel's common frequencies.
///
/// ```text
/// κ = (p_a − p_e) / (1 − p_e),   p_e = Σ_c π_c²
/// ```
///
/// `π_c`: mean over all items of the share of category c; `p_a` over items with two or more judgements. With equal numbers
/// of judgements it is the coefficient of the 1971 paper; with two raters it is Scott's π, not Cohen's κ. At most 1; 0 is
/// chance; no unit.
///
/// Fleiss (1971), Psychol. Bull. 76, 378–382; general form and error over items: Gwet (2014), Handbook of Inter-Rater
/// Reliability, 4th ed.
///
/// # Errors
/// [`Undefined::NoPairs`] where no item has two judgements, [`Undefined::OneCategory`] where all judgements are equal.
pub fn fleiss_kappa(tally: Weighted<'_>) -> Result<ChanceCorrected, Undefined> {
    let (items, shares) = category_shares(tally)?;
    let expected = shares.iter().map(|share| share * share).sum();
    chance_corrected(tally, items, expected, |pattern| {
        mean_over(pattern, &shares)
    })
}

/// Fleiss' kappa of one category against all others together.
///
/// # Errors
/// As [`fleiss_kappa`]; a category that nobody used, or that all used always, is [`Undefined::OneCategory`].
pub fn fleiss_kappa_of_category(tally: Weighted<'_>, category: u32) -> Result<f64, Undefined> {
    let (mut items, mut pairable, mut share, mut agreed) = (0.0, 0.0, 0.0, 0.0);
    for (weight, pattern) in tally.rows().filter(|(_, p)| p.judgements > 0.0) {
        let m = pattern.judgements;
        let own = pattern
            .counts
            .iter()
            .find(|(c, _)| *c == category)
            .map_or(0.0, |(_, count)| *count);
        items += weight;
        share += weight * own / m;
        if m >= 2.0 {
            let rest = m - own;
            pairable += weight;
            agreed += weight * (own * (own - 1.0) + rest * (rest - 1.0)) / (m * (m - 1.0));
        }
    }
    if pairable <= 0.0 {
        return Err(Undefined::NoPairs);
    }
    let share = share / items;
    let disagreed_by_chance = 2.0 * share * (1.0 - share);
    if disagreed_by_chance <= f64::EPSILON {
        return Err(Undefined::OneCategory);
    }
    Ok(1.0 - (1.0 - agreed / pairable) / disagreed_by_chance)
}

/// The error of Fleiss' kappa if nothing but chance were at work, and the test that it gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FleissNull {
    /// Standard error under kappa = 0; it makes a test, not an interval.
    pub se: f64,
    /// Kappa over that error.
    pub z: f64,
    /// Two-sided.
    pub p: f64,
}

/// The error of Fleiss' kappa under kappa = 0.
///
/// ```text
/// se₀ = √2 / (S·√(N n(n − 1))) · √(S² − Σ_c π_c(1 − π_c)(1 − 2π_c)),   S = Σ_c π_c(1 − π_c)
/// ```
///
/// `N` items with `n` judgements each. Fleiss, Nee & Landis (1979), Psychol. Bull. 86, 974–977, which withdrew the
/// error of the 1971 paper.
///
/// # Errors
/// As [`fleiss_kappa`], and [`Undefined::UnequalJudgements`] where `n` is not the same for all items.
pub fn fleiss_null_error(tally: Weighted<'_>) -> Result<FleissNull, Undefined> {
    let kappa = fleiss_kappa(tally)?.estimate;
    let (items, shares) = category_shares(tally)?;
    let mut judgements = tally.rows().map(|(_, pattern)| pattern.judgements);
    let n = judgements.next().ok_or(Undefined::NoJudgements)?;
    if judgements.any(|other| (other - n).abs() > 0.5) {
        return Err(Undefined::UnequalJudgements);
    }
    let spread: f64 = shares.iter().map(|p| p * (1.0 - p)).sum();
    let skew: f64 = shares.iter().map(|p| p * (1.0 - p) * (1.0 - 2.0 * p)).sum();
    let se = (2.0 * (spread * spread - skew) / (items * n * (n - 1.0))).sqrt() / spread;
    let z = kappa / se;
    Ok(FleissNull {
        se,
        z,
        p: 2.0 * normal::sf(z.abs()),
    })
}
