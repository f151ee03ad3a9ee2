//! Conger's kappa: Cohen's kappa for more than two raters, with gaps.

#![expect(
    clippy::indexing_slicing,
    reason = "raters and categories of a table lie within its own size"
)]

use super::super::Undefined;
use super::super::table::Table;
use super::super::tally::Tally;
use super::chance::ChanceCorrected;
use super::percent::percent_agreement;

/// Conger's kappa: agreement beyond that of raters who each keep their own frequencies; with two raters it is Cohen's kappa.
///
/// ```text
/// κ = (p_a − p_e) / (1 − p_e),   p_e = Σ_c [ p̄_c² − s_c²/r ]
/// p_gc: share of category c among the judgements of rater g;  p̄_c, s_c²: their mean and variance over the r raters
/// ```
///
/// The error is Gwet's linearisation over items, with `p_e|i` from each rater's departure on item i from her own
/// frequencies. Gaps allowed; raters without a judgement and items without one are left out. At most 1; 0 is chance; no unit.
/// Cost: linear in judgements plus raters × categories.
///
/// Conger (1980), Psychol. Bull. 88, 322–328; gaps and error: Gwet (2014), Handbook of Inter-Rater Reliability, 4th ed.
///
/// # Errors
/// [`Undefined::OneRater`], [`Undefined::NoPairs`] where no item has two judgements, [`Undefined::OneCategory`] where all
/// judgements are equal.
pub fn conger_kappa(table: &Table, tally: &Tally) -> Result<ChanceCorrected, Undefined> {
    let percent = percent_agreement(tally.weighted())?;
    let raters = Frequencies::of(table);
    let r = raters.judgements.iter().filter(|n| **n > 0.0).count() as f64;
    if r < 2.0 {
        return Err(Undefined::OneRater);
    }
    let expected = raters.chance(r);
    let beyond = 1.0 - expected;
    if beyond <= f64::EPSILON {
        return Err(Undefined::OneCategory);
    }
    let estimate = (percent.estimate - expected) / beyond;
    let items = table.items().filter(|cells| !cells.is_empty()).count() as f64;
    let own_chance = raters.own_chance();
    let absent: f64 = own_chance.iter().sum();
    let mut counts = vec![0.0; table.n_categories()];
    let mut squares = 0.0;
    for cells in table.items().filter(|cells| !cells.is_empty()) {
        let mut chance_here = absent;
        counts.fill(0.0);
        for cell in cells {
            let (g, c) = (cell.rater as usize, cell.category as usize);
            counts[c] += 1.0;
            let share = raters.judgements[g] / items;
            let own =
                (raters.total(c) - raters.share(g, c) - (1.0 - share) * own_chance[g]) / share;
            chance_here += own - own_chance[g];
        }
        let m = cells.len() as f64;
        let seen = if m >= 2.0 {
            counts.iter().map(|n| n * (n - 1.0)).sum::<f64>() / (m * (m - 1.0)) - expected
        } else {
            0.0
        };
        let expected_here = chance_here / (r * (r - 1.0));
        let own = items / percent.items * seen / beyond
            - 2.0 * (1.0 - estimate) * (expected_here - expected) / beyond;
        squares += (own - estimate).powi(2);
    }
    Ok(ChanceCorrected {
        estimate,
        observed: percent.estimate,
        expected,
        variance: (items > 1.0).then(|| squares / (items * (items - 1.0))),
        items,
    })
}

/// How often each rater uses each category.
struct Frequencies {
    n_categories: usize,
    judgements: Vec<f64>,
    shares: Vec<f64>,
    totals: Vec<f64>,
}

impl Frequencies {
    fn of(table: &Table) -> Self {
        let q = table.n_categories();
        let mut judgements = vec![0.0; table.n_raters()];
        let mut shares = vec![0.0; table.n_raters() * q];
        for cell in table.items().flatten() {
            let (g, c) = (cell.rater as usize, cell.category as usize);
            judgements[g] += 1.0;
            shares[g * q + c] += 1.0;
        }
        let mut totals = vec![0.0; q];
        for (line, n) in shares.chunks_exact_mut(q.max(1)).zip(&judgements) {
            for (share, total) in line.iter_mut().zip(&mut totals) {
                if *n > 0.0 {
                    *share /= n;
                }
                *total += *share;
            }
        }
        Self {
            n_categories: q,
            judgements,
            shares,
            totals,
        }
    }

    fn share(&self, g: usize, c: usize) -> f64 {
        self.shares[g * self.n_categories + c]
    }

    /// The sum over raters of their shares of a category.
    fn total(&self, c: usize) -> f64 {
        self.totals[c]
    }

    fn chance(&self, r: f64) -> f64 {
        (0..self.n_categories)
            .map(|c| {
                let mean = self.totals[c] / r;
                let squares: f64 = (0..self.judgements.len())
                    .map(|g| self.share(g, c).powi(2))
                    .sum();
                let variance = (squares - r * mean * mean) / (r - 1.0);
                mean * mean - variance / r
            })
            .sum()
    }

    /// Each rater's part in chance agreement: the sum over categories of her share times that of all others.
    fn own_chance(&self) -> Vec<f64> {
        (0..self.judgements.len())
            .map(|g| {
                (0..self.n_categories)
                    .map(|c| self.share(g, c) * (self.totals[c] - self.share(g, c)))
                    .sum()
            })
            .collect()
    }
}
