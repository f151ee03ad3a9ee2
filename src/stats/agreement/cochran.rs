//! Cochran's Q.

use super::super::Undefined;
use super::super::special::ChiSquared;
use super::super::table::Table;

/// Cochran's Q with its test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CochranQ {
    /// The statistic.
    pub q: f64,
    /// Raters less one.
    pub df: f64,
    /// Upper tail of χ².
    pub p: f64,
}

/// Cochran's Q: do some raters say 'positive' more often than others?
///
/// ```text
/// Q = (k − 1)(k Σ_g C_g² − T²) / (k T − Σ_i R_i²)
/// ```
///
/// `C_g`: positives of rater g; `R_i`: positives of item i; `T`: all; `k` raters. Two categories and a complete table;
/// items judged alike by all carry nothing. With two raters it is McNemar's χ². No unit, from 0 up.
///
/// Cochran (1950), Biometrika 37, 256–266.
///
/// # Errors
/// [`Undefined::NoJudgements`], [`Undefined::OneRater`], [`Undefined::NotTwoCategories`], [`Undefined::Incomplete`], or [`Undefined::NoDisagreement`] where
/// every item was judged alike by all.
pub fn cochran_q(table: &Table) -> Result<CochranQ, Undefined> {
    if table.n_judgements() == 0 {
        return Err(Undefined::NoJudgements);
    }
    if table.n_raters() < 2 {
        return Err(Undefined::OneRater);
    }
    if table.n_categories() != 2 {
        return Err(Undefined::NotTwoCategories);
    }
    if !table.is_complete() {
        return Err(Undefined::Incomplete);
    }
    let mut of_rater = vec![0.0; table.n_raters()];
    let (mut total, mut squares) = (0.0, 0.0);
    for cells in table.items() {
        let mut positive = 0.0;
        for cell in cells.iter().filter(|cell| cell.category == 1) {
            positive += 1.0;
            if let Some(count) = of_rater.get_mut(cell.rater as usize) {
                *count += 1.0;
            }
        }
        total += positive;
        squares += positive * positive;
    }
    let k = table.n_raters() as f64;
    let below: f64 = k * total - squares;
    if below <= 0.0 {
        return Err(Undefined::NoDisagreement);
    }
    let above: f64 = k * of_rater.iter().map(|count| count * count).sum::<f64>() - total * total;
    let (q, df) = ((k - 1.0) * above / below, k - 1.0);
    let p = ChiSquared::new(df).map_err(|_| Undefined::OneRater)?.sf(q);
    Ok(CochranQ { q, df, p })
}
