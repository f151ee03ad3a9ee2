//! McNemar's test of two raters' frequencies.

use super::super::special::Binomial;
use super::super::special::ChiSquared;

/// McNemar's test in its four forms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct McNemar {
    /// (b − c)²/(b + c), one degree of freedom.
    pub chi2: f64,
    /// Its p.
    pub p: f64,
    /// (max(|b − c| − 1, 0))²/(b + c), Edwards' correction.
    pub chi2_edwards: f64,
    /// Its p.
    pub p_edwards: f64,
    /// Twice the smaller binomial tail, at most 1.
    pub p_exact: f64,
    /// The exact p less half the probability of the result itself on each side: nearer to its level.
    pub p_mid: f64,
}

/// McNemar's test: does one rater say 'positive' more often than the other?
///
/// `b`, `c`: items on which only the first, or only the second, said it; items on which they agree carry nothing. `None`
/// where they never disagree. All p two-sided.
///
/// McNemar (1947), Psychometrika 12, 153–157; Edwards (1948); mid-p: Fagerland, Lydersen & Laake (2013), BMC Med. Res. Methodol. 13:91.
///
/// ```
/// // 1 against 8: 2·(1 + 9)/2⁹ by hand
/// let test = fairhearing::stats::agreement::mcnemar(1, 8).unwrap();
/// assert!((test.p_exact - 0.0390625).abs() < 1e-12);
/// ```
pub fn mcnemar(b: u32, c: u32) -> Option<McNemar> {
    let n = b + c;
    if n == 0 {
        return None;
    }
    let difference = f64::from(b.abs_diff(c));
    let chi = ChiSquared::new(1.0).ok()?;
    let tails = Binomial::new(u64::from(n), 0.5).ok()?;
    let fewer = u64::from(b.min(c));
    let chi2 = difference * difference / f64::from(n);
    let chi2_edwards = (difference - 1.0).max(0.0).powi(2) / f64::from(n);
    let p_exact = (2.0 * tails.cdf(fewer)).min(1.0);
    let p_mid = if b == c {
        1.0 - tails.pmf(fewer)
    } else {
        2.0 * tails.cdf(fewer) - tails.pmf(fewer)
    };
    Some(McNemar {
        chi2,
        p: chi.sf(chi2),
        chi2_edwards,
        p_edwards: chi.sf(chi2_edwards),
        p_exact,
        p_mid,
    })
}
