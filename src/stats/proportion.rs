//! A share of successes and how sure it is.

use super::special::normal;

/// Wilson's score interval for a share: where the true share lies, never closed at 0 or at 1.
///
/// ```text
/// (p̂ + z²/2n ± z·√(p̂(1−p̂)/n + z²/4n²)) / (1 + z²/n)
/// ```
///
/// `successes` of `n` independent trials; `n` may be an effective number, so neither need be whole.
/// `confidence` is the two-sided level, strictly between 0 and 1. No trials: the share may be
/// anything, so `[0, 1]`. No unit; within 0 to 1; exactly 0 (or 1) where there was no (or only) success.
///
/// Wilson (1927), J. Am. Stat. Assoc. 22, 209–212; method 3 of Newcombe (1998), Stat. Med. 17, 857–872.
///
/// ```
/// // 81 of 263: Newcombe (1998), Table I
/// let [low, high] = fairhearing::stats::proportion::wilson(81.0, 263.0, 0.95);
/// assert_eq!((low * 1e4).round(), 2553.0);
/// assert_eq!((high * 1e4).round(), 3662.0);
/// ```
pub fn wilson(successes: f64, n: f64, confidence: f64) -> [f64; 2] {
    wilson_score(successes / n, n, normal::two_sided(confidence))
}

/// Wilson's limits for a share `p` of `n` trials at the quantile `z`, which may be that of a t distribution.
///
/// Use [`wilson`] where the level is all that is known.
pub fn wilson_score(p: f64, n: f64, z: f64) -> [f64; 2] {
    if n.is_nan() || n <= 0.0 {
        return [0.0, 1.0];
    }
    let z2 = z * z;
    let centre = p + z2 / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).max(0.0).sqrt();
    let scale = 1.0 + z2 / n;
    let low = if p <= 0.0 {
        0.0
    } else {
        ((centre - half) / scale).max(0.0)
    };
    let high = if p >= 1.0 {
        1.0
    } else {
        ((centre + half) / scale).min(1.0)
    };
    [low, high]
}
