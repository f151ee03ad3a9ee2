//! Judgements as a table whose items and raters all occur, in an order that no order of rows can change.

use super::super::Scale;
use crate::stats::table::Table;
use crate::study::Invalid;
use crate::study::Labels;
use crate::study::PresentationKind;
use crate::study::Rating;
use crate::study::Ratings;
use crate::study::TokenRow;
use crate::study::TokenTable;

/// A table of judgements with the names of its items and raters, both in the order of their names.
pub(in super::super) struct Judged {
    pub(in super::super) table: Table,
    items: Vec<String>,
    raters: Vec<String>,
}

impl Judged {
    /// All main judgements on a scale.
    pub(super) fn all(ratings: &Ratings, scale: &Scale) -> Result<Self, Invalid> {
        let rows: Vec<&Rating> = ratings.of_kind(PresentationKind::Main).collect();
        Self::on_scale(ratings, &rows, scale)
    }

    /// Some of the judgements on a scale.
    pub(super) fn on_scale(
        ratings: &Ratings,
        rows: &[&Rating],
        scale: &Scale,
    ) -> Result<Self, Invalid> {
        Self::of(ratings, rows, scale.categories().len(), |value| {
            scale.category(value)
        })
    }

    /// Some of the judgements, by the items and raters that occur among them.
    pub(in super::super) fn of(
        ratings: &Ratings,
        rows: &[&Rating],
        n_categories: usize,
        category: impl Fn(u32) -> u32,
    ) -> Result<Self, Invalid> {
        let raters = Renumbered::of(&ratings.raters, rows.iter().map(|row| row.rater));
        Self::with_raters(ratings, rows, raters, n_categories, category)
    }

    /// The same, with every rater of the file, whether she occurs among the judgements or not.
    pub(in super::super) fn with_all_raters(
        ratings: &Ratings,
        rows: &[&Rating],
        n_categories: usize,
        category: impl Fn(u32) -> u32,
    ) -> Result<Self, Invalid> {
        let raters = Renumbered::of(&ratings.raters, (0_u32..).take(ratings.raters.len()));
        Self::with_raters(ratings, rows, raters, n_categories, category)
    }

    fn with_raters(
        ratings: &Ratings,
        rows: &[&Rating],
        raters: Renumbered,
        n_categories: usize,
        category: impl Fn(u32) -> u32,
    ) -> Result<Self, Invalid> {
        let items = Renumbered::of(&ratings.items, rows.iter().map(|row| row.item));
        let judgements: Vec<(u32, u32, u32)> = rows
            .iter()
            .map(|row| {
                (
                    items.number(row.item),
                    raters.number(row.rater),
                    category(row.value),
                )
            })
            .collect();
        let sizes = (items.names.len(), raters.names.len());
        let table = Table::new(sizes.0, sizes.1, n_categories, &judgements).map_err(|error| {
            Invalid::new(
                error.to_string(),
                "keep one judgement of each item by each rater",
            )
        })?;
        Ok(Self {
            table,
            items: items.names,
            raters: raters.names,
        })
    }

    /// An item's name.
    pub(in super::super) fn item(&self, number: usize) -> &str {
        self.items.get(number).map_or("", String::as_str)
    }

    /// A rater's name.
    pub(super) fn rater(&self, number: u32) -> &str {
        self.raters.get(number as usize).map_or("", String::as_str)
    }

    /// The raters' names.
    pub(in super::super) fn raters(&self) -> &[String] {
        &self.raters
    }
}

/// The known row of each item, by the item's number.
///
/// Items that are listed as unscored have none.
pub(super) fn rows_of_items<'a>(
    ratings: &Ratings,
    tokens: &'a TokenTable,
) -> Result<Vec<Option<&'a TokenRow>>, Invalid> {
    let rows: Vec<Option<&TokenRow>> = ratings
        .items
        .names()
        .iter()
        .map(|name| {
            tokens
                .tokens
                .find(name)
                .and_then(|number| tokens.rows.get(number as usize))
        })
        .collect();
    let unknown = ratings.of_kind(PresentationKind::Main).find(|rating| {
        let known = rows.get(rating.item as usize).is_some_and(Option::is_some);
        !known
            && tokens
                .unscored
                .find(ratings.items.name(rating.item))
                .is_none()
    });
    match unknown {
        Some(rating) => Err(Invalid::new(
            format!(
                "the token `{}` was judged and is not in the table of tokens",
                ratings.items.name(rating.item)
            ),
            "add its row, or leave its judgements out",
        )),
        None => Ok(rows),
    }
}

/// The main judgements of each label that tokens carry.
pub(super) fn by_label<'a>(
    ratings: &'a Ratings,
    rows: &[Option<&TokenRow>],
    n_labels: usize,
    label_of: &dyn Fn(&TokenRow) -> u32,
) -> Vec<Vec<&'a Rating>> {
    let mut groups = vec![Vec::new(); n_labels];
    for rating in ratings.of_kind(PresentationKind::Main) {
        let label = rows
            .get(rating.item as usize)
            .copied()
            .flatten()
            .map(label_of);
        if let Some(group) = label.and_then(|label| groups.get_mut(label as usize)) {
            group.push(rating);
        }
    }
    groups
}

/// New numbers, in the order of the names, for the names that occur.
struct Renumbered {
    numbers: Vec<u32>,
    names: Vec<String>,
}

impl Renumbered {
    fn of(labels: &Labels, occurring: impl Iterator<Item = u32>) -> Self {
        let mut occurs = vec![false; labels.len()];
        for number in occurring {
            if let Some(place) = occurs.get_mut(number as usize) {
                *place = true;
            }
        }
        let mut before: Vec<u32> = (0_u32..)
            .zip(&occurs)
            .filter(|(_, occurs)| **occurs)
            .map(|(number, _)| number)
            .collect();
        before.sort_by(|a, b| labels.name(*a).cmp(labels.name(*b)));
        let mut numbers = vec![u32::MAX; labels.len()];
        for (after, before) in (0_u32..).zip(&before) {
            if let Some(place) = numbers.get_mut(*before as usize) {
                *place = after;
            }
        }
        let name = |number: &u32| labels.name(*number).to_owned();
        Self {
            names: before.iter().map(name).collect(),
            numbers,
        }
    }

    fn number(&self, before: u32) -> u32 {
        self.numbers
            .get(before as usize)
            .copied()
            .unwrap_or(u32::MAX)
    }
}
