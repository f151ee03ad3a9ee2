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

/// A table of judgements with the names of its raters.
pub(super) struct Judged {
    pub(super) table: Table,
    raters: Vec<String>,
}

impl Judged {
    /// All main judgements.
    pub(super) fn all(ratings: &Ratings, scale: &Scale) -> Result<Self, Invalid> {
        let rows: Vec<&Rating> = ratings.of_kind(PresentationKind::Main).collect();
        Self::of(ratings, &rows, scale)
    }

    /// Some of the judgements.
    pub(super) fn of(ratings: &Ratings, rows: &[&Rating], scale: &Scale) -> Result<Self, Invalid> {
        let (items, n_items) = renumbered(&ratings.items, rows.iter().map(|row| row.item));
        let (raters, n_raters) = renumbered(&ratings.raters, rows.iter().map(|row| row.rater));
        let number = |of: &[u32], name: u32| of.get(name as usize).copied().unwrap_or(u32::MAX);
        let judgements: Vec<(u32, u32, u32)> = rows
            .iter()
            .map(|row| {
                (
                    number(&items, row.item),
                    number(&raters, row.rater),
                    scale.category(row.value),
                )
            })
            .collect();
        let table = Table::new(n_items, n_raters, scale.categories().len(), &judgements).map_err(
            |error| {
                Invalid::new(
                    error.to_string(),
                    "keep one judgement of each item by each rater",
                )
            },
        )?;
        let mut names = vec![String::new(); n_raters];
        for (before, after) in (0_u32..).zip(&raters) {
            if let Some(name) = names.get_mut(*after as usize) {
                ratings.raters.name(before).clone_into(name);
            }
        }
        Ok(Self {
            table,
            raters: names,
        })
    }

    /// A rater's name.
    pub(super) fn rater(&self, number: u32) -> &str {
        self.raters.get(number as usize).map_or("", String::as_str)
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

/// New numbers, in the order of the names, for those that occur; and how many there are.
fn renumbered(labels: &Labels, occurring: impl Iterator<Item = u32>) -> (Vec<u32>, usize) {
    let mut numbers = vec![u32::MAX; labels.len()];
    for number in occurring {
        if let Some(place) = numbers.get_mut(number as usize) {
            *place = 0;
        }
    }
    let mut occurring: Vec<u32> = (0_u32..)
        .zip(&numbers)
        .filter(|(_, place)| **place == 0)
        .map(|(number, _)| number)
        .collect();
    occurring.sort_by(|a, b| labels.name(*a).cmp(labels.name(*b)));
    for (after, before) in (0_u32..).zip(&occurring) {
        if let Some(place) = numbers.get_mut(*before as usize) {
            *place = after;
        }
    }
    (numbers, occurring.len())
}
