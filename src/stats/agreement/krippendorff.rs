//! Krippendorff's alpha.

use super::super::Undefined;
use super::super::tally::Weighted;

/// How far apart two categories are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlphaScale<'a> {
    /// Categories are equal or not.
    Nominal,
    /// Categories have an order: their distance is the number of judgements that lie between them.
    Ordinal,
    /// Categories are numbers, one a category: their distance is the difference.
    Interval(&'a [f64]),
}

/// Memory that one computation of alpha after another reuses.
#[derive(Debug, Clone, Default)]
pub struct Workspace {
    margins: Vec<f64>,
    scores: Vec<f64>,
}

/// Krippendorff's alpha: how far disagreement stays below what the same judgements, dealt at random, would show.
///
/// ```text
/// α = 1 − D_o / D_e
/// D_o = (1/n) Σ_u Σ_{c,k} r_uc r_uk δ²(c,k) / (r_u − 1)        D_e = Σ_{c,k} n_c n_k δ²(c,k) / (n(n − 1))
/// nominal:  δ² = [c ≠ k]
/// ordinal:  δ = n_c/2 + (judgements between) + n_k/2, which is the difference of mid-ranks
/// interval: δ = value of c − value of k
/// ```
///
/// `r_uc`: judgements of unit (item) u in category c; `n_c`: all of them in pairable units; `n`: their sum. Gaps are
/// expected: units with fewer than two judgements are left out, from the margins too. At most 1; 0 is chance; no unit.
/// Cost: linear in the different patterns of answers, with no coincidence matrix.
///
/// Krippendorff (2011), Computing Krippendorff's alpha-reliability; Hayes & Krippendorff (2007), Commun. Methods Meas. 1, 77–89.
///
/// # Errors
/// [`Undefined::NoPairs`] where no unit has two judgements, [`Undefined::OneCategory`] where all pairable judgements are equal.
pub fn krippendorff_alpha(
    tally: Weighted<'_>,
    scale: AlphaScale<'_>,
    workspace: &mut Workspace,
) -> Result<f64, Undefined> {
    let margins = &mut workspace.margins;
    margins.clear();
    margins.resize(tally.n_categories, 0.0);
    let mut n = 0.0;
    for (weight, pattern) in tally.pairable() {
        n += weight * pattern.judgements;
        for &(category, count) in &pattern.counts {
            if let Some(margin) = margins.get_mut(category as usize) {
                *margin += weight * count;
            }
        }
    }
    if n <= 0.0 {
        return Err(Undefined::NoPairs);
    }
    if margins.iter().filter(|margin| **margin > 0.0).count() < 2 {
        return Err(Undefined::OneCategory);
    }
    let (observed, expected) = match scale {
        AlphaScale::Nominal => nominal(tally, margins, n),
        AlphaScale::Ordinal => {
            mid_ranks(margins, &mut workspace.scores);
            squared(tally, margins, n, &workspace.scores)
        }
        AlphaScale::Interval(values) => squared(tally, margins, n, values),
    };
    if expected <= 0.0 {
        return Err(Undefined::OneCategory);
    }
    Ok(1.0 - (n - 1.0) * observed / expected)
}

fn nominal(tally: Weighted<'_>, margins: &[f64], n: f64) -> (f64, f64) {
    let observed = tally
        .pairable()
        .map(|(weight, pattern)| {
            let m = pattern.judgements;
            let differ: f64 = pattern.counts.iter().map(|(_, r)| r * (m - r)).sum();
            weight * differ / (m - 1.0)
        })
        .sum();
    let expected = margins.iter().map(|margin| margin * (n - margin)).sum();
    (observed, expected)
}

/// Sums of squared differences over pairs, by moments about the common mean.
fn squared(tally: Weighted<'_>, margins: &[f64], n: f64, scores: &[f64]) -> (f64, f64) {
    let centre = margins.iter().zip(scores).map(|(m, x)| m * x).sum::<f64>() / n;
    let score = |category: u32| scores.get(category as usize).map_or(0.0, |x| x - centre);
    let observed = tally
        .pairable()
        .map(|(weight, pattern)| {
            let (mut sum, mut squares) = (0.0, 0.0);
            for &(category, count) in &pattern.counts {
                let x = score(category);
                sum += count * x;
                squares += count * x * x;
            }
            let m = pattern.judgements;
            weight * (m * squares - sum * sum) / (m - 1.0)
        })
        .sum();
    let (mut sum, mut squares) = (0.0, 0.0);
    for (margin, value) in margins.iter().zip(scores) {
        let x = value - centre;
        sum += margin * x;
        squares += margin * x * x;
    }
    (observed, n * squares - sum * sum)
}

fn mid_ranks(margins: &[f64], scores: &mut Vec<f64>) {
    scores.clear();
    let mut before = 0.0;
    scores.extend(margins.iter().map(|margin| {
        let rank = before + margin / 2.0;
        before += margin;
        rank
    }));
}
