//! Brennan and Prediger's coefficient.

use super::super::Undefined;
use super::super::tally::Weighted;
use super::chance::ChanceCorrected;
use super::chance::category_shares;
use super::chance::chance_corrected;
use super::chance::check_scale;

/// Brennan and Prediger's coefficient: agreement beyond that of raters who choose every category equally often.
///
/// ```text
/// κ_BP = (p_a − 1/q) / (1 − 1/q)
/// ```
///
/// `q`: categories of the *declared* scale, seen or not; two categories make it the PABAK. Items with one judgement
/// count in the error only. At most 1; 0 is chance; no unit.
///
/// Brennan & Prediger (1981), Educ. Psychol. Meas. 41, 687–699; error: Gwet (2014), Handbook of Inter-Rater Reliability, 4th ed.
///
/// # Errors
/// [`Undefined::OneCategoryScale`] for a scale of one category, [`Undefined::NoPairs`] where no item has two judgements.
pub fn brennan_prediger(tally: Weighted<'_>) -> Result<ChanceCorrected, Undefined> {
    check_scale(tally)?;
    let (items, _) = category_shares(tally)?;
    let expected = 1.0 / tally.n_categories as f64;
    chance_corrected(tally, items, expected, |_| expected)
}
