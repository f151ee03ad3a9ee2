//! Cohen's kappa of two raters, plain and weighted.

use super::super::Undefined;
use super::super::special::normal;
use super::pair_table::PairTable;

/// What a disagreement costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PairWeights<'a> {
    /// Every disagreement costs the same.
    Nominal,
    /// The cost grows with the distance of the two values, one a category.
    Linear(&'a [f64]),
    /// The cost grows with the squared distance of the two values, one a category.
    Quadratic(&'a [f64]),
    /// Agreement weights given cell by cell, row by row: 1 is full agreement.
    Given(&'a [f64]),
}

/// Cohen's kappa with its two standard errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CohenKappa {
    /// Items that both judged.
    pub items: f64,
    /// (Weighted) agreement seen.
    pub observed: f64,
    /// (Weighted) agreement that the two raters' own frequencies would give by chance.
    pub expected: f64,
    /// Kappa.
    pub estimate: f64,
    /// Standard error for intervals.
    pub se: f64,
    /// Standard error if kappa were 0, for the test.
    pub se_null: f64,
    /// Kappa over `se_null`.
    pub z: f64,
    /// Two-sided.
    pub p: f64,
}

impl CohenKappa {
    /// The interval κ ± z·se. It may pass 1 or −1; whoever shows it cuts it.
    ///
    /// # Errors
    /// [`Undefined::NoSpread`] where the error is 0, as after perfect agreement.
    pub fn interval(&self, confidence: f64) -> Result<[f64; 2], Undefined> {
        let half = normal::two_sided(confidence) * self.se;
        if half > 0.0 {
            Ok([self.estimate - half, self.estimate + half])
        } else {
            Err(Undefined::NoSpread)
        }
    }
}

/// Cohen's kappa: how far two raters agree beyond chance.
///
/// ```text
/// κ = (p_o − p_e) / (1 − p_e),   p_o = Σ_ij w_ij p_ij,   p_e = Σ_ij w_ij p_i. p_.j
/// se² = [Σ_ij p_ij (w_ij(1 − p_e) − (w̄_i. + w̄_.j)(1 − p_o))² − (p_o p_e − 2p_e + p_o)²] / (n(1 − p_e)⁴)
/// se₀² = [Σ_ij p_i. p_.j (w_ij − w̄_i. − w̄_.j)² − p_e²] / (n(1 − p_e)²)
/// w̄_i. = Σ_j p_.j w_ij,   w̄_.j = Σ_i p_i. w_ij
/// ```
///
/// `pair`: the items that both judged; one that either skipped is left out. `weights`: agreement weights, 1 on the diagonal.
/// No unit; at most 1; 0 is chance. It falls where one category is rare: read it beside specific agreement and the
/// prevalence index. The two errors are not interchangeable: `se` makes the interval, `se_null` the test.
///
/// Cohen (1960), Educ. Psychol. Meas. 20, 37–46, and (1968), Psychol. Bull. 70, 213–220; errors: Fleiss, Cohen & Everitt (1969),
/// Psychol. Bull. 72, 323–327.
///
/// ```
/// use fairhearing::stats::agreement::{cohen_kappa, PairTable, PairWeights};
/// // Feinstein & Cicchetti (1990): 85% agreement, yet kappa is low where one answer is rare
/// let pair = PairTable::new(2, vec![80.0, 10.0, 5.0, 5.0]).unwrap();
/// let kappa = cohen_kappa(&pair, PairWeights::Nominal)?;
/// assert!((kappa.estimate - 0.318).abs() < 5e-4 && (kappa.observed - 0.85).abs() < 1e-12);
/// # Ok::<(), fairhearing::stats::Undefined>(())
/// ```
///
/// # Errors
/// [`Undefined::NoOverlap`] without a common item, [`Undefined::OneCategory`] where both always gave one and the same answer.
pub fn cohen_kappa(pair: &PairTable, weights: PairWeights<'_>) -> Result<CohenKappa, Undefined> {
    let n = pair.items();
    if n <= 0.0 {
        return Err(Undefined::NoOverlap);
    }
    let q = pair.n_categories();
    let (rows, columns) = pair.margins();
    let weight = |i: usize, j: usize| weights.of(q, i, j);
    let row_means = means(q, &columns, weight);
    let column_means = means(q, &rows, |j, i| weight(i, j));

    let (mut observed, mut expected) = (0.0, 0.0);
    for (i, row) in rows.iter().enumerate() {
        for (j, column) in columns.iter().enumerate() {
            observed += weight(i, j) * pair.share(i, j);
            expected += weight(i, j) * row * column;
        }
    }
    let beyond = 1.0 - expected;
    if beyond <= f64::EPSILON {
        return Err(Undefined::OneCategory);
    }
    let (mut spread, mut null_spread) = (0.0, 0.0);
    for (i, (row, row_mean)) in rows.iter().zip(&row_means).enumerate() {
        for (j, (column, column_mean)) in columns.iter().zip(&column_means).enumerate() {
            let (w, mean) = (weight(i, j), row_mean + column_mean);
            spread += pair.share(i, j) * (w * beyond - mean * (1.0 - observed)).powi(2);
            null_spread += row * column * (w - mean).powi(2);
        }
    }
    let spread = spread - (observed * expected - 2.0 * expected + observed).powi(2);
    let estimate = (observed - expected) / beyond;
    let se = root_of_rounded(spread) / n.sqrt() / beyond.powi(2);
    let se_null = root_of_rounded(null_spread - expected * expected) / n.sqrt() / beyond;
    let z = estimate / se_null;
    Ok(CohenKappa {
        items: n,
        observed,
        expected,
        estimate,
        se,
        se_null,
        z,
        p: 2.0 * normal::sf(z.abs()),
    })
}

impl PairWeights<'_> {
    fn of(self, q: usize, i: usize, j: usize) -> f64 {
        match self {
            Self::Nominal => f64::from(u8::from(i == j)),
            Self::Linear(values) => 1.0 - distance(values, i, j),
            Self::Quadratic(values) => 1.0 - distance(values, i, j).powi(2),
            Self::Given(weights) => weights.get(i * q + j).copied().unwrap_or(0.0),
        }
    }
}

/// The distance of two values as a share of the whole scale.
fn distance(values: &[f64], i: usize, j: usize) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    match (values.get(i), values.get(j)) {
        (Some(a), Some(b)) if high > low => (a - b).abs() / (high - low),
        _ => 0.0,
    }
}

fn means(q: usize, margin: &[f64], weight: impl Fn(usize, usize) -> f64) -> Vec<f64> {
    (0..q)
        .map(|i| {
            margin
                .iter()
                .enumerate()
                .map(|(j, share)| share * weight(i, j))
                .sum()
        })
        .collect()
}

/// The root of a difference of numbers near 1: what is left of it below their rounding is 0.
fn root_of_rounded(spread: f64) -> f64 {
    if spread > 1e-14 { spread.sqrt() } else { 0.0 }
}
