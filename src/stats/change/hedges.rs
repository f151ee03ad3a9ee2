//! Hedges' g: the standardised difference of two groups of children.

use super::ChangeError;
use super::at_least;
use super::mean;
use super::variance;

/// g with its large-sample error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hedges {
    /// g = J·d, second group minus first.
    pub estimate: f64,
    /// √(1/n₁ + 1/n₂ + g²/(2(n₁ + n₂))): rough with few children.
    pub se: f64,
}

/// Hedges' g: the difference of two groups' means in pooled standard deviations, without small-sample bias.
///
/// ```text
/// J = Γ(ν/2) / (√(ν/2) Γ((ν − 1)/2)),  ν = n₁ + n₂ − 2
/// ```
///
/// `first`, `second`: one value a child, at least two each. Exact J, not its approximation, for groups are small.
/// Hedges (1981), J. Educ. Stat. 6, 107–128.
///
/// # Errors
/// [`ChangeError::TooFew`], or [`ChangeError::Constant`] where neither group varies.
pub fn hedges_g(first: &[f64], second: &[f64]) -> Result<Hedges, ChangeError> {
    at_least(2, [first, second])?;
    let (m, n) = (first.len() as f64, second.len() as f64);
    let df = m + n - 2.0;
    let pooled = ((m - 1.0) * variance(first) + (n - 1.0) * variance(second)) / df;
    if pooled <= 1e-18 {
        return Err(ChangeError::Constant);
    }
    let ln_j = libm::lgamma(df / 2.0) - 0.5 * (df / 2.0).ln() - libm::lgamma((df - 1.0) / 2.0);
    let estimate = ln_j.exp() * (mean(second) - mean(first)) / pooled.sqrt();
    let se = (1.0 / m + 1.0 / n + estimate * estimate / (2.0 * (m + n))).sqrt();
    Ok(Hedges { estimate, se })
}
