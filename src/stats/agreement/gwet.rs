//! Gwet's AC1.

use super::super::Undefined;
use super::super::tally::Weighted;
use super::chance::ChanceCorrected;
use super::chance::category_shares;
use super::chance::chance_corrected;
use super::chance::check_scale;
use super::chance::mean_over;

/// Gwet's AC1: agreement beyond chance where chance is guessing on hard items only, so that a lopsided material does not
/// drag it down as it does kappa.
///
/// ```text
/// AC1 = (p_a − p_e) / (1 − p_e),   p_e = Σ_c π_c(1 − π_c) / (q − 1)
/// ```
///
/// `π_c`: mean over items of the share of category c; `q`: categories of the *declared* scale. Items with one judgement
/// count in `π` and in the error, not in `p_a`. At most 1; 0 is chance; no unit.
///
/// Gwet (2008), Br. J. Math. Stat. Psychol. 61, 29–48; error: Gwet (2014), Handbook of Inter-Rater Reliability, 4th ed.
///
/// # Errors
/// [`Undefined::OneCategoryScale`] for a scale of one category, [`Undefined::NoPairs`] where no item has two judgements.
pub fn gwet_ac1(tally: Weighted<'_>) -> Result<ChanceCorrected, Undefined> {
    check_scale(tally)?;
    let q = tally.n_categories as f64;
    let (items, shares) = category_shares(tally)?;
    let others: Vec<f64> = shares
        .iter()
        .map(|share| (1.0 - share) / (q - 1.0))
        .collect();
    let expected = shares.iter().zip(&others).map(|(a, b)| a * b).sum();
    chance_corrected(tally, items, expected, |pattern| {
        mean_over(pattern, &others)
    })
}
