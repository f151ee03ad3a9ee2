//! Where exchanges found no order without clashes: a search that misses none in small sittings and
//! gives up after a bounded number of steps in large ones.

#![expect(
    clippy::indexing_slicing,
    reason = "every index is one of the list that it was counted over"
)]

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use super::super::Chance;
use super::arrangement::Arrangement;
use super::arrangement::Item;
use crate::study::PresentationKind;

/// Items looked at in all. Enough to go through every order of eight items.
const LOOKS: usize = 4_000_000;

/// The layout itself, or one with fewer clashes.
pub(super) fn improve(layout: Arrangement, distance: usize, chance: &mut Chance) -> Arrangement {
    let mut steps = LOOKS / layout.row().len().max(1);
    for allowed in layout.least_cost()..layout.cost() {
        let mut search = Search::over(&layout, distance, steps / 2, chance);
        if search.run(allowed) {
            let mut found = either_way_round(&layout, search.placed, chance);
            scatter(&mut found, chance);
            return found;
        }
        steps = steps / 2 + search.steps;
    }
    layout
}

/// The search puts the items that are most in the way first. Half of the time the mixed part is
/// turned round, so that on the whole nothing comes earlier than anything else; except where that
/// would clash with the warm-ups.
fn either_way_round(layout: &Arrangement, row: Vec<Item>, chance: &mut Chance) -> Arrangement {
    let mut turned = row.clone();
    let n_warm_ups = layout.warm_ups().len();
    turned[n_warm_ups..].reverse();
    let mut heard = BTreeSet::new();
    for item in &mut turned {
        if item.phase.is_some() {
            *item = item.heard_for(if heard.insert(item.slot.token) {
                PresentationKind::Main
            } else {
                PresentationKind::Repeat
            });
        }
    }
    let (row, turned) = (layout.reordered(row), layout.reordered(turned));
    if turned.cost() <= row.cost() && chance.below(2) == 0 {
        turned
    } else {
        row
    }
}

/// What is left of the search's lopsidedness is stirred by exchanges that bring no clash.
fn scatter(layout: &mut Arrangement, chance: &mut Chance) {
    for part in [layout.warm_ups(), layout.mixed()] {
        for _ in 0..4 * part.len() {
            let a = part.start + chance.below(part.len());
            let b = part.start + chance.below(part.len());
            if a != b {
                layout.swap_if_harmless(a, b);
            }
        }
    }
}

struct Search {
    lead: Option<Item>,
    n_warm_ups: usize,
    n_places: usize,
    repeats: usize,
    distance: usize,
    /// Items not yet placed: warm-ups, main tokens, checks; no repeats.
    open: Vec<Item>,
    open_children: Counts,
    open_words: Counts,
    placed: Vec<Item>,
    steps: usize,
}

/// How many open items there are of each child or word.
type Counts = BTreeMap<u32, usize>;

impl Search {
    fn over(layout: &Arrangement, distance: usize, steps: usize, chance: &mut Chance) -> Self {
        let mut open: Vec<Item> = layout.after_lead().to_vec();
        let n_places = open.len();
        open.retain(|item| item.slot.kind != PresentationKind::Repeat);
        let repeats = n_places - open.len();
        chance.shuffle(&mut open);
        Self {
            lead: layout.row()[..layout.warm_ups().start].last().copied(),
            n_warm_ups: layout.warm_ups().len(),
            n_places,
            repeats,
            distance: distance.max(1),
            open_children: counts(open.iter().filter_map(|item| item.child)),
            open_words: counts(open.iter().filter_map(|item| item.word)),
            open,
            placed: Vec::with_capacity(n_places),
            steps,
        }
    }

    /// Fills the next place, and those after it, with at most so many clashes.
    fn run(&mut self, allowed: usize) -> bool {
        if self.placed.len() == self.n_places {
            return true;
        }
        if self.steps == 0 || self.must_clash() > allowed {
            return false;
        }
        self.steps -= 1;
        for (_, clash, choice) in self.choices() {
            if clash > allowed {
                continue;
            }
            let item = self.place(choice);
            if self.run(allowed - clash) {
                return true;
            }
            self.take_back(choice, item);
        }
        false
    }

    /// What may come next, the items with most of their like still to come first.
    fn choices(&self) -> Vec<(usize, usize, Choice)> {
        let at = self.placed.len();
        let previous = self.placed.last().or(self.lead.as_ref());
        let clash = |item: &Item| previous.map_or(0, |previous| previous.clash(item));
        let warm = at < self.n_warm_ups;
        let mut choices: Vec<_> = self
            .open
            .iter()
            .enumerate()
            .filter(|(_, item)| (item.slot.kind == PresentationKind::WarmUp) == warm)
            .map(|(index, item)| (self.likes(item), clash(item), Choice::Open(index)))
            .collect();
        if self.repeats > 0 && !warm {
            let far_enough = (at + 1).saturating_sub(self.distance);
            for (first, item) in self.placed[..far_enough].iter().enumerate() {
                let fresh = item.slot.kind == PresentationKind::Main
                    && !self.placed[first + 1..]
                        .iter()
                        .any(|later| later.slot.token == item.slot.token);
                if fresh {
                    choices.push((self.likes(item), clash(item), Choice::Repeat(first)));
                }
            }
        }
        choices.sort_by(|a, b| a.1.cmp(&b.1).then(b.0.cmp(&a.0)));
        choices
    }

    /// How many open items would clash with this one.
    fn likes(&self, item: &Item) -> usize {
        let of = |counts: &Counts, value: Option<u32>| {
            value
                .and_then(|value| counts.get(&value))
                .copied()
                .unwrap_or(0)
        };
        of(&self.open_children, item.child) + of(&self.open_words, item.word)
    }

    fn place(&mut self, choice: Choice) -> Item {
        let item = match choice {
            Choice::Open(index) => {
                let item = self.open.remove(index);
                less(&mut self.open_children, item.child);
                less(&mut self.open_words, item.word);
                item
            }
            Choice::Repeat(first) => {
                self.repeats -= 1;
                self.placed[first].heard_for(PresentationKind::Repeat)
            }
        };
        self.placed.push(item);
        item
    }

    fn take_back(&mut self, choice: Choice, item: Item) {
        self.placed.pop();
        match choice {
            Choice::Open(index) => {
                self.open.insert(index, item);
                more(&mut self.open_children, item.child);
                more(&mut self.open_words, item.word);
            }
            Choice::Repeat(_) => self.repeats += 1,
        }
    }

    /// Clashes that the rest cannot avoid: c of one child among n places to come need 2c − n − 1.
    fn must_clash(&self) -> usize {
        let rest = self.n_places - self.placed.len();
        [&self.open_children, &self.open_words]
            .into_iter()
            .filter_map(|counts| counts.values().max())
            .map(|most| (2 * most).saturating_sub(rest + 1))
            .sum()
    }
}

fn counts(values: impl Iterator<Item = u32>) -> Counts {
    let mut counts = Counts::new();
    for value in values {
        more(&mut counts, Some(value));
    }
    counts
}

fn more(counts: &mut Counts, value: Option<u32>) {
    if let Some(value) = value {
        *counts.entry(value).or_default() += 1;
    }
}

fn less(counts: &mut Counts, value: Option<u32>) {
    if let Some(count) = value.and_then(|value| counts.get_mut(&value)) {
        *count -= 1;
    }
}

#[derive(Clone, Copy)]
enum Choice {
    Open(usize),
    /// The main token at this place of the row, again.
    Repeat(usize),
}
