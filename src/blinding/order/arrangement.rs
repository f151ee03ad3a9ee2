//! A sitting laid out in a row, what it costs, and how exchanges make it cost less.

#![expect(
    clippy::indexing_slicing,
    reason = "every position is one of a row whose length never changes while it is searched"
)]

use std::collections::BTreeMap;
use std::ops::Range;

use super::super::Candidate;
use super::super::Chance;
use super::Extra;
use super::Slot;
use crate::study::PresentationKind;

/// Exchanges without gain, for each place of the row, after which a layout is given up.
const IDLE_TRIES: usize = 2;

/// One presentation with all that its order depends on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item {
    pub(super) slot: Slot,
    pub(super) child: Option<u32>,
    pub(super) word: Option<u32>,
    /// The phase of a main token or its repeat.
    pub(super) phase: Option<u32>,
}

impl Item {
    pub(super) const fn extra(kind: PresentationKind, extra: &Extra) -> Self {
        Self {
            slot: Slot {
                kind,
                token: extra.token,
            },
            child: extra.child,
            word: extra.word,
            phase: None,
        }
    }

    pub(super) const fn main(candidate: &Candidate) -> Self {
        Self {
            slot: Slot {
                kind: PresentationKind::Main,
                token: candidate.token,
            },
            child: Some(candidate.child),
            word: Some(candidate.word),
            phase: Some(candidate.phase),
        }
    }

    /// The same token, heard for another reason.
    pub(super) const fn heard_for(mut self, kind: PresentationKind) -> Self {
        self.slot.kind = kind;
        self
    }

    /// What it costs that the two follow each other: one for the same child, one for the same word.
    pub(super) fn clash(&self, other: &Self) -> usize {
        let same = |a: Option<u32>, b: Option<u32>| usize::from(a.is_some() && a == b);
        same(self.child, other.child) + same(self.word, other.word)
    }
}

/// A main token and its repeat: where both stand.
#[derive(Debug, Clone, Copy)]
struct Pair {
    first: usize,
    repeat: usize,
}

/// The row: the last practice token (which stays), the warm-ups, then all that is mixed.
#[derive(Debug, Clone)]
pub(super) struct Arrangement {
    row: Vec<Item>,
    n_lead: usize,
    n_warm_ups: usize,
    distance: usize,
    pairs: Vec<Pair>,
    /// For each position the pair that it belongs to.
    pair_of: Vec<Option<usize>>,
}

impl Arrangement {
    pub(super) fn new(lead: Option<&Item>, warm_ups: Vec<Item>, mixed: Vec<Item>) -> Self {
        let n_lead = usize::from(lead.is_some());
        let n_warm_ups = warm_ups.len();
        let row: Vec<Item> = lead
            .copied()
            .into_iter()
            .chain(warm_ups)
            .chain(mixed)
            .collect();
        Self {
            pair_of: vec![None; row.len()],
            row,
            n_lead,
            n_warm_ups,
            distance: 0,
            pairs: Vec::new(),
        }
    }

    pub(super) fn row(&self) -> &[Item] {
        &self.row
    }

    /// What stands after the practice tokens.
    pub(super) fn after_lead(&self) -> &[Item] {
        &self.row[self.n_lead..]
    }

    /// The positions of main tokens, checks and repeats.
    pub(super) fn mixed(&self) -> Range<usize> {
        self.n_lead + self.n_warm_ups..self.row.len()
    }

    /// The positions of the warm-ups.
    pub(super) fn warm_ups(&self) -> Range<usize> {
        self.n_lead..self.n_lead + self.n_warm_ups
    }

    pub(super) fn is_repeated(&self, position: usize) -> bool {
        self.pair_of[position].is_some()
    }

    /// Puts the repeat of the main token at `first` before position `gap`, at least `distance`
    /// places later.
    pub(super) fn insert_repeat(&mut self, first: usize, gap: usize, distance: usize) {
        self.distance = distance;
        self.row
            .insert(gap, self.row[first].heard_for(PresentationKind::Repeat));
        self.pair_of.insert(gap, Some(self.pairs.len()));
        for pair in &mut self.pairs {
            pair.first += usize::from(pair.first >= gap);
            pair.repeat += usize::from(pair.repeat >= gap);
        }
        self.pair_of[first] = Some(self.pairs.len());
        self.pairs.push(Pair { first, repeat: gap });
    }

    /// How often the same child or the same word follows itself.
    pub(super) fn cost(&self) -> usize {
        self.row.windows(2).map(|two| two[0].clash(&two[1])).sum()
    }

    /// Whether nothing clashes, or no order of these items could clash less.
    pub(super) fn is_as_good_as_can_be(&self) -> bool {
        self.cost() <= self.least_cost()
    }

    /// A cost below which no order of these items comes.
    pub(super) fn least_cost(&self) -> usize {
        [self.warm_ups(), self.mixed()]
            .into_iter()
            .map(|part| least_cost(&self.row[part]))
            .sum()
    }

    /// Exchanges items of one part with each other until nothing clashes or nothing helps: first
    /// within a phase and near by, so that the spread is kept.
    pub(super) fn mend(&mut self, chance: &mut Chance) {
        let least = self.least_cost();
        let mut cost = self.cost();
        let mut idle = 0;
        while cost > least && idle < IDLE_TRIES * self.row.len() {
            idle += 1;
            let Some(position) = self.a_clashing_position(chance) else {
                return;
            };
            let Some(other) = self.partner(position, chance) else {
                continue;
            };
            let before = self.cost_around(position, other);
            self.swap(position, other);
            let after = self.cost_around(position, other);
            if after < before {
                cost -= before - after;
                idle = 0;
            }
        }
    }

    fn a_clashing_position(&self, chance: &mut Chance) -> Option<usize> {
        let clashes: Vec<usize> = (1..self.row.len())
            .filter(|&at| self.row[at - 1].clash(&self.row[at]) > 0)
            .collect();
        let edge = *chance.pick(&clashes)?;
        let (left, right) = (edge - 1, edge);
        let may_move = left >= self.n_lead;
        Some(if may_move && chance.below(2) == 0 {
            left
        } else {
            right
        })
    }

    /// With which position to exchange: the nearest that lowers the cost, of the same phase if
    /// there is one; else any that does not raise it.
    fn partner(&mut self, position: usize, chance: &mut Chance) -> Option<usize> {
        let part = if self.mixed().contains(&position) {
            self.mixed()
        } else {
            self.warm_ups()
        };
        let mut nearest: Vec<usize> = Vec::new();
        let mut nearest_is = (true, usize::MAX);
        let mut level = Vec::new();
        for other in part.filter(|&other| other != position) {
            let before = self.cost_around(position, other);
            self.swap(position, other);
            let after = self.cost_around(position, other);
            let allowed = self.keeps_distance(position) && self.keeps_distance(other);
            self.swap(position, other);
            if !allowed || after > before {
                continue;
            }
            if after == before {
                level.push(other);
                continue;
            }
            let differs = self.row[position].phase != self.row[other].phase;
            let rank = (differs, position.abs_diff(other));
            if rank < nearest_is {
                nearest.clear();
                nearest_is = rank;
            }
            if rank == nearest_is {
                nearest.push(other);
            }
        }
        chance.pick(&nearest).or(chance.pick(&level)).copied()
    }

    fn keeps_distance(&self, position: usize) -> bool {
        self.pair_of[position].is_none_or(|pair| {
            let Pair { first, repeat } = self.pairs[pair];
            repeat >= first + self.distance
        })
    }

    fn swap(&mut self, a: usize, b: usize) {
        self.row.swap(a, b);
        self.pair_of.swap(a, b);
        for position in [a, b] {
            let Some(pair) = self.pair_of[position] else {
                continue;
            };
            if self.row[position].slot.kind == PresentationKind::Repeat {
                self.pairs[pair].repeat = position;
            } else {
                self.pairs[pair].first = position;
            }
        }
    }

    /// Exchanges two items where that brings neither a clash nor a repeat too near.
    pub(super) fn swap_if_harmless(&mut self, a: usize, b: usize) -> bool {
        let before = self.cost_around(a, b);
        self.swap(a, b);
        let harmless =
            self.cost_around(a, b) <= before && self.keeps_distance(a) && self.keeps_distance(b);
        if !harmless {
            self.swap(a, b);
        }
        harmless
    }

    /// Exchanges two items that belong to no pair.
    pub(super) fn swap_unpaired(&mut self, a: usize, b: usize) {
        self.swap(a, b);
    }

    /// The cost of all that the two positions touch.
    fn cost_around(&self, a: usize, b: usize) -> usize {
        let (low, high) = (a.min(b), a.max(b));
        let mut edges = [low, low + 1, high, high + 1];
        if high == low + 1 {
            edges[1] = 0;
        }
        edges
            .into_iter()
            .filter(|&edge| edge > 0 && edge < self.row.len())
            .map(|edge| self.row[edge - 1].clash(&self.row[edge]))
            .sum()
    }

    /// The same items in another order, given as the row after the lead.
    pub(super) fn reordered(&self, mixed_and_warm_ups: Vec<Item>) -> Self {
        let lead = self.row[..self.n_lead].first();
        let mut items = mixed_and_warm_ups;
        let mixed = items.split_off(self.n_warm_ups);
        let mut new = Self::new(lead, items, mixed);
        new.distance = self.distance;
        for (at, item) in new.row.iter().enumerate() {
            if item.slot.kind != PresentationKind::Repeat {
                continue;
            }
            let first = new
                .row
                .iter()
                .position(|i| i.slot.token == item.slot.token)
                .unwrap_or(at);
            new.pair_of[first] = Some(new.pairs.len());
            new.pair_of[at] = Some(new.pairs.len());
            new.pairs.push(Pair { first, repeat: at });
        }
        new
    }
}

/// Of n items, c of one child (or word), at least 2c − n − 1 must follow their like. Which tokens
/// are repeated is open, so repeats count as others' as far as there are others.
fn least_cost(items: &[Item]) -> usize {
    [
        most(items, |item| item.child),
        most(items, |item| item.word),
    ]
    .into_iter()
    .map(|most| (2 * most).saturating_sub(items.len() + 1))
    .sum()
}

/// The number of items of the commonest child (or word), with the repeats that must be its.
fn most(items: &[Item], of: impl Fn(&Item) -> Option<u32>) -> usize {
    let mut of_value: BTreeMap<u32, (usize, usize)> = BTreeMap::new();
    let (mut n_main, mut n_repeats) = (0, 0);
    for item in items {
        let kind = item.slot.kind;
        let main = usize::from(kind == PresentationKind::Main);
        n_main += main;
        if kind == PresentationKind::Repeat {
            n_repeats += 1;
        } else if let Some(value) = of(item) {
            let (once, repeatable) = of_value.entry(value).or_default();
            *once += 1;
            *repeatable += main;
        }
    }
    let with_repeats =
        |(once, repeatable): (usize, usize)| once + (n_repeats + repeatable).saturating_sub(n_main);
    of_value.into_values().map(with_repeats).max().unwrap_or(0)
}
