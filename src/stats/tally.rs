//! How often each pattern of answers occurs: what all count-based coefficients of agreement need.

use std::collections::HashMap;
use std::hash::BuildHasherDefault;
use std::hash::Hasher;

use super::table::Table;

/// The patterns of answers that items show, each with how many items show it.
///
/// A pattern is what is left of an item when its raters are forgotten: "7 correct, 2 distorted". With two categories
/// and nine raters there are ten patterns for any number of items, so a coefficient, a resample of items and a
/// rater left out cost next to nothing. The patterns are closed under taking one judgement away.
#[derive(Debug, Clone)]
pub struct Tally {
    n_categories: usize,
    patterns: Vec<Pattern>,
    weights: Vec<f64>,
    pattern_of_item: Vec<u32>,
}

/// One pattern of answers.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// The categories that occur with their counts, in the order of the categories.
    pub counts: Vec<(u32, f64)>,
    /// How many judgements there are.
    pub judgements: f64,
    lesser: Vec<u32>,
}

/// A tally whose items have been given other weights: a resample, or the items without one rater.
#[derive(Debug, Clone, Copy)]
pub struct Weighted<'a> {
    /// The patterns.
    pub patterns: &'a [Pattern],
    /// How many items show each of them.
    pub weights: &'a [f64],
    /// How many categories the scale has.
    pub n_categories: usize,
}

impl Tally {
    /// Counts the patterns of a table.
    pub fn of(table: &Table) -> Self {
        let mut book = Book::default();
        let mut counts: Vec<(u32, u32)> = Vec::new();
        let mut weights = Vec::new();
        let mut pattern_of_item = Vec::with_capacity(table.n_items());
        for cells in table.items() {
            counts.clear();
            for cell in cells {
                // An item shows few categories: a walk through them is shorter than any search.
                match counts
                    .iter_mut()
                    .find(|(category, _)| *category == cell.category)
                {
                    Some((_, count)) => *count += 1,
                    None => counts.push((cell.category, 1)),
                }
            }
            counts.sort_unstable();
            let number = book.number(&counts);
            weights.resize(book.patterns.len(), 0.0);
            if let Some(weight) = weights.get_mut(number as usize) {
                *weight += 1.0;
            }
            pattern_of_item.push(number);
        }
        book.sort(&mut weights, &mut pattern_of_item);
        book.close_under_removal();
        weights.resize(book.patterns.len(), 0.0);
        Self {
            n_categories: table.n_categories(),
            patterns: book.patterns,
            weights,
            pattern_of_item,
        }
    }

    /// The tally as it was counted.
    pub fn weighted(&self) -> Weighted<'_> {
        self.with_weights(&self.weights)
    }

    /// The same patterns with other weights, one a pattern.
    pub fn with_weights<'a>(&'a self, weights: &'a [f64]) -> Weighted<'a> {
        Weighted {
            patterns: &self.patterns,
            weights,
            n_categories: self.n_categories,
        }
    }

    /// How many items show each pattern.
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Writes into `weights` how many items show each pattern once these judgements `(item, category)`, at most
    /// one an item, are taken away.
    pub fn take_away(&self, judgements: &[(u32, u32)], weights: &mut Vec<f64>) {
        weights.clear();
        weights.extend_from_slice(&self.weights);
        for &(item, category) in judgements {
            let Some(&number) = self.pattern_of_item.get(item as usize) else {
                continue;
            };
            let Some(pattern) = self.patterns.get(number as usize) else {
                continue;
            };
            let place = pattern.counts.iter().position(|(c, _)| *c == category);
            let lesser = place.and_then(|place| pattern.lesser.get(place));
            if let Some(weight) = weights.get_mut(number as usize) {
                *weight -= 1.0;
            }
            if let Some(weight) = lesser.and_then(|lesser| weights.get_mut(*lesser as usize)) {
                *weight += 1.0;
            }
        }
    }
}

impl<'a> Weighted<'a> {
    /// The patterns that occur, with their weights.
    pub fn rows(self) -> impl Iterator<Item = (f64, &'a Pattern)> {
        self.weights
            .iter()
            .copied()
            .zip(self.patterns)
            .filter(|(weight, _)| *weight > 0.0)
    }

    /// The patterns with two or more judgements, with their weights: those that can agree or disagree.
    pub fn pairable(self) -> impl Iterator<Item = (f64, &'a Pattern)> {
        self.rows().filter(|(_, pattern)| pattern.judgements >= 2.0)
    }
}

#[derive(Default)]
struct Book {
    patterns: Vec<Pattern>,
    numbers: HashMap<Vec<(u32, u32)>, u32, BuildHasherDefault<Mix>>,
    keys: Vec<Vec<(u32, u32)>>,
}

impl Book {
    fn number(&mut self, counts: &[(u32, u32)]) -> u32 {
        if let Some(&number) = self.numbers.get(counts) {
            return number;
        }
        let number = u32::try_from(self.patterns.len()).unwrap_or(u32::MAX);
        self.patterns.push(Pattern {
            counts: counts
                .iter()
                .map(|&(category, count)| (category, f64::from(count)))
                .collect(),
            judgements: counts.iter().map(|&(_, count)| f64::from(count)).sum(),
            lesser: Vec::new(),
        });
        self.numbers.insert(counts.to_vec(), number);
        self.keys.push(counts.to_vec());
        number
    }

    /// Brings the patterns into an order that no order of items or raters can change.
    fn sort(&mut self, weights: &mut Vec<f64>, pattern_of_item: &mut [u32]) {
        let mut order: Vec<usize> = (0..self.keys.len()).collect();
        order.sort_by(|a, b| self.keys.get(*a).cmp(&self.keys.get(*b)));
        let mut sorted = Self::default();
        let mut places = vec![0; order.len()];
        *weights = order
            .iter()
            .filter_map(|&before| {
                let place = sorted.number(self.keys.get(before)?);
                *places.get_mut(before)? = place;
                weights.get(before).copied()
            })
            .collect();
        for pattern in pattern_of_item {
            *pattern = places.get(*pattern as usize).copied().unwrap_or(0);
        }
        *self = sorted;
    }

    /// Adds, for each pattern seen, those with one judgement less, and notes where they stand.
    fn close_under_removal(&mut self) {
        let seen = std::mem::take(&mut self.keys);
        for (number, key) in seen.iter().enumerate() {
            let lesser = (0..key.len())
                .map(|place| {
                    let mut less = key.clone();
                    if let Some((_, count)) = less.get_mut(place) {
                        *count -= 1;
                    }
                    less.retain(|(_, count)| *count > 0);
                    self.number(&less)
                })
                .collect();
            if let Some(pattern) = self.patterns.get_mut(number) {
                pattern.lesser = lesser;
            }
        }
    }
}

/// A hash of small counts by one multiplication each: the keys are our own numbers, so nobody can make them collide on purpose.
#[derive(Default)]
struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u32(&mut self, number: u32) {
        self.write_u64(u64::from(number));
    }

    fn write_usize(&mut self, number: usize) {
        self.write_u64(number as u64);
    }

    fn write_u64(&mut self, number: u64) {
        // An odd number near 2⁶⁴ divided by the golden ratio spreads neighbours.
        self.0 = (self.0.rotate_left(5) ^ number).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
}
