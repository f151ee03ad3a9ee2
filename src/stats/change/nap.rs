//! NAP: nonoverlap of all pairs, and Tau, which is the same on another scale.

use super::Better;
use super::ChangeError;
use super::at_least;
use super::sorted::Sorted;
use crate::stats::root;
use crate::stats::special::normal;

/// NAP with its standard error and interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nap {
    /// In [0, 1]; ½ where the phases overlap wholly.
    pub estimate: f64,
    /// Never 0; nothing where a phase has one point only.
    pub se: Option<f64>,
    /// Newcombe's method 5.
    pub ci: [f64; 2],
}

impl Nap {
    /// Tau = 2·NAP − 1, in [−1, 1], with its error and interval on that scale.
    #[must_use]
    pub fn as_tau(self) -> Self {
        Self {
            estimate: 2.0 * self.estimate - 1.0,
            se: self.se.map(|se| 2.0 * se),
            ci: self.ci.map(|limit| 2.0 * limit - 1.0),
        }
    }
}

/// NAP: the chance that a point of the later phase is better than a point of the earlier one.
///
/// ```text
/// q_ij = 1 if b_j is better than a_i, ½ if equal, 0 if worse;   NAP = mean of q over the m·n pairs
/// V = [θ(1 − θ) + n·Q_1 + m·Q_2 − 2X] / [(m − 1)(n − 1)]
/// Q_1, Q_2: variance of the row and column means of q about NAP (over m, n);  X: mean of (q − NAP)²
/// θ = NAP cut to [1/(2mn), 1 − 1/(2mn)], so that the error is never 0
/// interval: the θ with (NAP − θ)² = z² θ(1 − θ)[1 + h((1 − θ)/(2 − θ) + θ/(1 + θ))]/(mn),  h = (m + n)/2 − 1
/// ```
///
/// `from`: m points, `to`: n points, any scale; at least one each. Points count as exact and independent. At NAP of 0
/// or 1 the outer limit is 0 or 1. `confidence` strictly between 0 and 1.
///
/// Parker & Vannest (2009), Behav. Ther. 40, 357–367. V: the unbiased estimator of Sen (1967) as Mee (1990) gives
/// it. Interval: Newcombe (2006), Stat. Med. 25, 559–573, method 5.
///
/// # Errors
/// [`ChangeError::TooFew`] where a phase is empty.
///
/// ```
/// use fairhearing::stats::change::{Better, nap};
/// // Parker, Vannest & Davis (2011), Behav. Modif. 35, 303–322: 38.5/42
/// let before = [20.0, 20.0, 26.0, 25.0, 22.0, 23.0];
/// let after = [28.0, 25.0, 24.0, 27.0, 30.0, 30.0, 29.0];
/// let nap = nap(&before, &after, Better::Higher, 0.95)?;
/// assert!((nap.estimate - 38.5 / 42.0).abs() < 1e-12);
/// # Ok::<(), fairhearing::stats::change::ChangeError>(())
/// ```
pub fn nap(from: &[f64], to: &[f64], better: Better, confidence: f64) -> Result<Nap, ChangeError> {
    at_least(1, [from, to])?;
    let (m, n) = (from.len() as f64, to.len() as f64);
    let (mut by_size, mut later) = (from.to_vec(), to.to_vec());
    let estimate = nap_value(from, &mut later, better);
    let se = (m > 1.0 && n > 1.0).then(|| {
        let phases = (Sorted::new(&mut by_size), Sorted::new(&mut later));
        standard_error((from, to), phases, better, estimate)
    });
    Ok(Nap {
        estimate,
        se,
        ci: newcombe(estimate, m, n, normal::two_sided(confidence)),
    })
}

/// NAP alone, for resampling: sorts `to` in its place and allocates nothing. Neither phase may be empty.
pub fn nap_value(from: &[f64], to: &mut [f64], better: Better) -> f64 {
    let pairs = from.len() as f64 * to.len() as f64;
    let later = Sorted::new(to);
    let sum: f64 = from.iter().map(|a| row(*a, &later, better).0).sum();
    sum / pairs
}

fn standard_error(
    (from, to): (&[f64], &[f64]),
    (earlier, later): (Sorted<'_>, Sorted<'_>),
    better: Better,
    nap: f64,
) -> f64 {
    let (m, n) = (from.len() as f64, to.len() as f64);
    let about = |share: f64| (share - nap).powi(2);
    let of_rows = from.iter().map(|a| row(*a, &later, better));
    let (rows, squares) = of_rows.fold((0.0, 0.0), |(rows, squares), (sum, of_squares)| {
        (rows + about(sum / n), squares + of_squares)
    });
    let columns: f64 = to
        .iter()
        .map(|b| about(1.0 - row(*b, &earlier, better).0 / m))
        .sum();
    let (rows, columns) = (rows / m, columns / n);
    let spread = squares / (m * n) - nap * nap;
    let least = 1.0 / (2.0 * m * n);
    let theta = nap.clamp(least, 1.0 - least);
    let scale = (m - 1.0) * (n - 1.0);
    let variance = theta * (1.0 - theta) + n * rows + m * columns - 2.0 * spread;
    (variance.max(least * (1.0 - least)) / scale).sqrt()
}

/// The sum of q over the pairs of one point with a phase, and that of q²: 1 where the phase's point is better, ½ where equal.
fn row(point: f64, phase: &Sorted<'_>, better: Better) -> (f64, f64) {
    let (won, equal) = phase.better_than(point, better);
    (won + equal / 2.0, won + equal / 4.0)
}

/// Newcombe's method 5: the root on each side of the estimate; at 0 or 1 the estimate itself is a root that means nothing.
fn newcombe(nap: f64, m: f64, n: f64, z: f64) -> [f64; 2] {
    const EDGE: f64 = 1e-12;
    let h = f64::midpoint(m, n) - 1.0;
    let beyond = |theta: f64| {
        let spread = 1.0 + h * ((1.0 - theta) / (2.0 - theta) + theta / (1.0 + theta));
        (nap - theta).powi(2) - z * z * theta * (1.0 - theta) * spread / (m * n)
    };
    let low = if nap <= 0.0 {
        0.0
    } else {
        root::rising(EDGE, nap.min(1.0 - EDGE), |theta| -beyond(theta))
    };
    let high = if nap >= 1.0 {
        1.0
    } else {
        root::rising(nap.max(EDGE), 1.0 - EDGE, beyond)
    };
    [low, high]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swapping_phases_mirrors_nap() {
        let (a, b) = ([0.2, 0.4, 0.3], [0.3, 0.9]);
        let value = |from: &[f64], to: &[f64], better| nap_value(from, &mut to.to_vec(), better);
        let there = value(&a, &b, Better::Higher);
        assert!((there + value(&b, &a, Better::Higher) - 1.0).abs() < 1e-15);
        assert!((there + value(&a, &b, Better::Lower) - 1.0).abs() < 1e-15);
    }
}
