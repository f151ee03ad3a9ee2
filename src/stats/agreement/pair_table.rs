//! Two raters side by side: how often each pair of answers occurred.

use rayon::prelude::*;

use super::super::Undefined;
use super::super::table::Table;

/// The joint answers of two raters on the items that both judged.
#[derive(Debug, Clone, PartialEq)]
pub struct PairTable {
    n_categories: usize,
    counts: Vec<f64>,
    items: f64,
}

impl PairTable {
    /// A table of `counts`, row by row: the first rater's category is the row, the second's the column.
    ///
    /// `None` unless there are `n_categories` squared counts, none of them negative.
    pub fn new(n_categories: usize, counts: Vec<f64>) -> Option<Self> {
        if counts.len() != n_categories * n_categories
            || counts.iter().any(|c| c.is_nan() || *c < 0.0)
        {
            return None;
        }
        let items = counts.iter().sum();
        Some(Self {
            n_categories,
            counts,
            items,
        })
    }

    /// How many categories the scale has.
    pub fn n_categories(&self) -> usize {
        self.n_categories
    }

    /// Items that both judged.
    pub fn items(&self) -> f64 {
        self.items
    }

    /// The share of items with the first rater's answer `row` and the second's `column`.
    pub fn share(&self, row: usize, column: usize) -> f64 {
        self.counts
            .get(row * self.n_categories + column)
            .map_or(0.0, |count| count / self.items)
    }

    /// The shares of the first rater's answers and of the second's.
    pub fn margins(&self) -> (Vec<f64>, Vec<f64>) {
        let mut rows = vec![0.0; self.n_categories];
        let mut columns = vec![0.0; self.n_categories];
        for (row, line) in rows
            .iter_mut()
            .zip(self.counts.chunks_exact(self.n_categories.max(1)))
        {
            for (column, count) in columns.iter_mut().zip(line) {
                *row += count / self.items;
                *column += count / self.items;
            }
        }
        (rows, columns)
    }

    /// The share of items on which both gave the same answer; `None` without a common item.
    pub fn observed(&self) -> Option<f64> {
        let same: f64 = (0..self.n_categories).map(|c| self.share(c, c)).sum();
        (self.items > 0.0).then_some(same)
    }

    /// The specific agreement of a category, 2a/(2a+b+c); `None` where neither rater used it.
    pub fn specific(&self, category: usize) -> Option<f64> {
        let (rows, columns) = self.margins();
        let used = rows.get(category)? + columns.get(category)?;
        (used > 0.0).then(|| 2.0 * self.share(category, category) / used)
    }

    /// Prevalence index: the share of items that both call `positive` less the share that both call the other.
    ///
    /// Two categories only. Byrt, Bishop & Carlin (1993), J. Clin. Epidemiol. 46, 423–429.
    ///
    /// # Errors
    /// [`Undefined::NotTwoCategories`] or [`Undefined::NoOverlap`].
    pub fn prevalence_index(&self, positive: usize) -> Result<f64, Undefined> {
        let other = self.other_of_two(positive)?;
        Ok(self.share(positive, positive) - self.share(other, other))
    }

    /// Bias index: the share of items that only the first rater calls `positive` less those that only the second does.
    ///
    /// Two categories only. Byrt, Bishop & Carlin (1993).
    ///
    /// # Errors
    /// [`Undefined::NotTwoCategories`] or [`Undefined::NoOverlap`].
    pub fn bias_index(&self, positive: usize) -> Result<f64, Undefined> {
        let other = self.other_of_two(positive)?;
        Ok(self.share(positive, other) - self.share(other, positive))
    }

    /// Prevalence- and bias-adjusted kappa, twice the agreement seen less 1, for two categories. Byrt, Bishop & Carlin (1993).
    ///
    /// # Errors
    /// [`Undefined::NotTwoCategories`] or [`Undefined::NoOverlap`].
    pub fn pabak(&self) -> Result<f64, Undefined> {
        self.other_of_two(0)?;
        let observed = self.observed().ok_or(Undefined::NoOverlap)?;
        Ok(2.0 * observed - 1.0)
    }

    /// The items on which only the first, and only the second, rater said `positive`.
    ///
    /// # Errors
    /// [`Undefined::NotTwoCategories`] or [`Undefined::NoOverlap`].
    pub fn discordant(&self, positive: usize) -> Result<(f64, f64), Undefined> {
        let other = self.other_of_two(positive)?;
        Ok((
            (self.share(positive, other) * self.items).round(),
            (self.share(other, positive) * self.items).round(),
        ))
    }

    fn other_of_two(&self, category: usize) -> Result<usize, Undefined> {
        if self.n_categories != 2 || category > 1 {
            return Err(Undefined::NotTwoCategories);
        }
        if self.items <= 0.0 {
            return Err(Undefined::NoOverlap);
        }
        Ok(1 - category)
    }
}

/// The joint answers of every pair of raters `(a, b)`, a before b, who have an item in common, as `of_pair` reads each.
///
/// Each table lives only while `of_pair` looks at it, so that the pairs of hundreds of raters need little memory.
pub fn pair_tables<T: Send>(
    table: &Table,
    of_pair: impl Fn(u32, u32, &PairTable) -> T + Sync,
) -> Vec<T> {
    let items: Vec<&[super::super::table::Cell]> = table.items().collect();
    let q = table.n_categories();
    let by_rater = table.by_rater();
    let pairs_of = |a: usize, judged: &[(u32, u32)]| -> Vec<T> {
        let mut joint: Vec<Option<Vec<f64>>> = vec![None; table.n_raters()];
        for &(item, category) in judged {
            let cells = items.get(item as usize).copied().unwrap_or_default();
            for cell in cells.iter().filter(|cell| cell.rater as usize > a) {
                let place = category as usize * q + cell.category as usize;
                let counts = joint
                    .get_mut(cell.rater as usize)
                    .map(|counts| counts.get_or_insert_with(|| vec![0.0; q * q]));
                if let Some(count) = counts.and_then(|counts| counts.get_mut(place)) {
                    *count += 1.0;
                }
            }
        }
        (0_u32..)
            .zip(joint)
            .filter_map(|(b, counts)| {
                let pair = PairTable::new(q, counts?)?;
                Some(of_pair(u32::try_from(a).ok()?, b, &pair))
            })
            .collect()
    };
    by_rater
        .par_iter()
        .enumerate()
        .map(|(a, judged)| pairs_of(a, judged))
        .collect::<Vec<_>>()
        .into_iter()
        .flatten()
        .collect()
}
