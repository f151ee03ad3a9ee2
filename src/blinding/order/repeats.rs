//! Which main tokens are heard again, and where.

#![expect(
    clippy::indexing_slicing,
    reason = "every position is one of the row that it was counted over"
)]

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::super::Chance;
use super::SittingDesign;
use super::arrangement::Arrangement;
use super::arrangement::Item;
use crate::study::PresentationKind;

/// Puts the repeats into a layout: phases in proportion to their tokens, then any token of the
/// phase, then any gap that is far enough and brings no clash (the fewest, where each brings one).
pub(super) fn insert(layout: &mut Arrangement, design: &SittingDesign, chance: &mut Chance) {
    let distance = design.repeat_distance.max(1);
    let mut phases = count_phases(layout);
    for _ in 0..design.repeats {
        let placed = by_need(&phases, chance).into_iter().find_map(|phase| {
            let (first, gap) = a_gap(layout, phase, distance, chance)?;
            Some((phase, first, gap))
        });
        let placed = placed
            .or_else(|| make_room(layout, distance, chance))
            .or_else(|| set_apart(layout, distance, chance));
        let Some((phase, first, gap)) = placed else {
            return;
        };
        layout.insert_repeat(first, gap, distance);
        if let Some(count) = phases.get_mut(&phase) {
            count.repeated += 1;
        }
    }
}

struct Count {
    tokens: usize,
    repeated: usize,
}

fn count_phases(layout: &Arrangement) -> BTreeMap<u32, Count> {
    let mut phases = BTreeMap::new();
    for phase in layout.row().iter().filter_map(|item| item.phase) {
        let count = phases.entry(phase).or_insert(Count {
            tokens: 0,
            repeated: 0,
        });
        count.tokens += 1;
    }
    phases
}

/// The phases, the one with the smallest share of repeats first, equals in random order.
fn by_need(phases: &BTreeMap<u32, Count>, chance: &mut Chance) -> Vec<u32> {
    let mut order: Vec<_> = phases.iter().collect();
    chance.shuffle(&mut order);
    order.sort_by(|(_, a), (_, b)| (a.repeated * b.tokens).cmp(&(b.repeated * a.tokens)));
    order.into_iter().map(|(phase, _)| *phase).collect()
}

/// A random token of the phase and a random gap among those that clash least.
fn a_gap(
    layout: &Arrangement,
    phase: u32,
    distance: usize,
    chance: &mut Chance,
) -> Option<(usize, usize)> {
    let mut least = usize::MAX;
    let mut found: Vec<(usize, Vec<usize>)> = Vec::new();
    for first in firsts(layout).filter(|&at| layout.row()[at].phase == Some(phase)) {
        let mut gaps = Vec::new();
        for gap in first + distance..=layout.row().len() {
            let clash = clash_in(layout, first, gap);
            match clash.cmp(&least) {
                Ordering::Less => {
                    least = clash;
                    found.clear();
                    gaps = vec![gap];
                }
                Ordering::Equal => gaps.push(gap),
                Ordering::Greater => {}
            }
        }
        if !gaps.is_empty() {
            found.push((first, gaps));
        }
    }
    let (first, gaps) = chance.pick(&found)?;
    Some((*first, *chance.pick(gaps)?))
}

/// Main tokens that are not yet repeated.
fn firsts(layout: &Arrangement) -> impl Iterator<Item = usize> {
    layout.mixed().filter(|&at| {
        layout.row()[at].slot.kind == PresentationKind::Main && !layout.is_repeated(at)
    })
}

/// The clashes around a repeat put into a gap.
fn clash_in(layout: &Arrangement, first: usize, gap: usize) -> usize {
    let item = layout.row()[first];
    let before = gap
        .checked_sub(1)
        .map_or(0, |at| layout.row()[at].clash(&item));
    let after = layout.row().get(gap).map_or(0, |next| next.clash(&item));
    before + after
}

/// Where only checks stand early enough to be repeated in time: exchanges one with a main token,
/// which is then repeated at the very end.
fn make_room(
    layout: &mut Arrangement,
    distance: usize,
    chance: &mut Chance,
) -> Option<(u32, usize, usize)> {
    let end = layout.row().len();
    let early: Vec<usize> = layout
        .mixed()
        .filter(|&at| at + distance <= end)
        .filter(|&at| layout.row()[at].slot.kind == PresentationKind::Check)
        .collect();
    let late: Vec<usize> = firsts(layout).collect();
    let (early, late) = (*chance.pick(&early)?, *chance.pick(&late)?);
    layout.swap_unpaired(early, late);
    Some((layout.row()[early].phase?, early, end))
}

/// Where the tokens that are left stand too late to be repeated, and no check can make room: those that are repeated come
/// first and their repeats last, both in the order in which they stood, so that each repeat comes as many places later as there
/// are tokens. One more token is among them, and is repeated at the very end.
fn set_apart(
    layout: &mut Arrangement,
    distance: usize,
    chance: &mut Chance,
) -> Option<(u32, usize, usize)> {
    let left: Vec<usize> = firsts(layout).collect();
    let more = *chance.pick(&left)?;
    let (mut repeated, mut others) = (Vec::new(), Vec::new());
    for at in layout.mixed().filter(|&at| at != more) {
        let item = layout.row()[at];
        match item.slot.kind {
            PresentationKind::Repeat => {}
            PresentationKind::Main if layout.is_repeated(at) => repeated.push(item),
            _ => others.push(item),
        }
    }
    if repeated.len() + 1 + others.len() < distance {
        return None;
    }
    let item = layout.row()[more];
    let first = layout.mixed().start + repeated.len();
    let again = repeated
        .iter()
        .map(|item| item.heard_for(PresentationKind::Repeat));
    let mut items: Vec<Item> = layout.warm_ups().map(|at| layout.row()[at]).collect();
    items.extend(&repeated);
    items.push(item);
    items.extend(others);
    items.extend(again);
    *layout = layout.reordered(items);
    Some((item.phase?, first, layout.row().len()))
}
