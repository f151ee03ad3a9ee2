//! A listener against all others.

use super::super::Undefined;
use super::super::table::Table;

/// How far one listener goes with the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestOfPanel {
    /// Tokens that another listener judged too.
    pub items: u32,
    /// The mean over these tokens of the share of others who say the same.
    pub agreement: f64,
    /// Pearson's correlation of her judgement with the others' share of 'positive'.
    pub correlation: Result<f64, Undefined>,
}

/// Each listener of a table against those of the others who are `kept`, positive being category 1.
///
/// ```text
/// agreement = (1/n) Σ_i share of others on item i who say what she says
/// correlation = Pearson's r over items of her 0 or 1 with the others' share of 1
/// ```
///
/// Items that nobody else judged are left out. Agreement from 0 to 1, correlation from −1 to 1. Both depend on the material: compare
/// listeners of one round, not rounds. The item-rest correlation of test theory, so that nobody is compared with herself.
///
/// One entry a listener of the table: [`Undefined::OneRater`] where there is no other, [`Undefined::NoOverlap`] where she shares no item with a kept other, and a correlation
/// [`Undefined::NoVariance`] where her judgements or the others' shares do not vary.
pub fn rest_of_panel(table: &Table, kept: &[bool]) -> Vec<Result<RestOfPanel, Undefined>> {
    if table.n_raters() < 2 {
        return vec![Err(Undefined::OneRater); table.n_raters()];
    }
    let mut sums = vec![Sums::default(); table.n_raters()];
    let is_kept = |rater: u32| kept.get(rater as usize).copied().unwrap_or(true);
    for cells in table.items() {
        let (mut judgements, mut positive) = (0.0, 0.0);
        for cell in cells.iter().filter(|cell| is_kept(cell.rater)) {
            judgements += 1.0;
            positive += f64::from(cell.category);
        }
        for cell in cells {
            let own = f64::from(cell.category);
            let (others, yes) = if is_kept(cell.rater) {
                (judgements - 1.0, positive - own)
            } else {
                (judgements, positive)
            };
            if others > 0.0
                && let Some(sum) = sums.get_mut(cell.rater as usize)
            {
                sum.add(own, yes / others);
            }
        }
    }
    sums.into_iter().map(Sums::found).collect()
}

/// The last digits of a sum depend on the order of its terms; who is left out must not.
const GRAIN: f64 = 1e10;

#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    items: u32,
    own: f64,
    others: f64,
    others_squared: f64,
    product: f64,
    agreed: f64,
}

impl Sums {
    fn add(&mut self, own: f64, others: f64) {
        self.items += 1;
        self.own += own;
        self.others += others;
        self.others_squared += others * others;
        self.product += own * others;
        self.agreed += own * others + (1.0 - own) * (1.0 - others);
    }

    fn found(self) -> Result<RestOfPanel, Undefined> {
        if self.items == 0 {
            return Err(Undefined::NoOverlap);
        }
        let n = f64::from(self.items);
        // Her judgements are 0 or 1, so their sum of squares is their sum.
        let own = self.own - self.own * self.own / n;
        let others = self.others_squared - self.others * self.others / n;
        let correlation = if own > 1e-12 && others > 1e-12 {
            Ok((self.product - self.own * self.others / n) / (own * others).sqrt())
        } else {
            Err(Undefined::NoVariance)
        };
        Ok(RestOfPanel {
            items: self.items,
            agreement: (self.agreed / n * GRAIN).round() / GRAIN,
            correlation,
        })
    }
}
