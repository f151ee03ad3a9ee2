//! The first layout: everything spread evenly, each item at a random point of its share.

use std::collections::BTreeMap;

use super::super::Candidate;
use super::super::Chance;
use super::Extra;
use super::arrangement::Arrangement;
use super::arrangement::Item;
use crate::study::PresentationKind;

/// Lays a sitting out without its repeats.
///
/// The i-th of n items of a phase comes at (i + U) / n of the way, U uniform in [0, 1); the same
/// rule deals the places of a phase to its strata. Every draw is as likely as its mirror image, so
/// position and phase are uncorrelated.
pub(super) fn lay_out(
    lead: Option<&Item>,
    warm_ups: &[Extra],
    main: &[Candidate],
    checks: &[Extra],
    chance: &mut Chance,
) -> Arrangement {
    let mut warm_ups: Vec<Item> = warm_ups
        .iter()
        .map(|extra| Item::extra(PresentationKind::WarmUp, extra))
        .collect();
    chance.shuffle(&mut warm_ups);

    let mut mixed = Vec::with_capacity(main.len() + checks.len());
    for phase in phases(main).into_values() {
        let strata = phase
            .into_values()
            .flat_map(|items| strewn(items, chance))
            .collect();
        mixed.extend(evenly(in_order(strata), chance));
    }
    let checks = checks
        .iter()
        .map(|extra| Item::extra(PresentationKind::Check, extra))
        .collect();
    mixed.extend(strewn(checks, chance));
    Arrangement::new(lead, warm_ups, in_order(mixed))
}

/// The main tokens by phase and stratum, each list by token, so that the order in which they are
/// handed in plays no part.
fn phases(main: &[Candidate]) -> BTreeMap<u32, BTreeMap<u32, Vec<Item>>> {
    let mut main: Vec<_> = main.iter().collect();
    main.sort_by_key(|candidate| candidate.token);
    let mut phases: BTreeMap<u32, BTreeMap<u32, Vec<Item>>> = BTreeMap::new();
    for candidate in main {
        let strata = phases.entry(candidate.phase).or_default();
        let stratum = strata.entry(candidate.stratum).or_default();
        stratum.push(Item::main(candidate));
    }
    phases
}

/// Items in random order, spread evenly.
fn strewn(mut items: Vec<Item>, chance: &mut Chance) -> Vec<(f64, Item)> {
    chance.shuffle(&mut items);
    evenly(items, chance)
}

/// Items in their order, the i-th of n at (i + U) / n.
fn evenly(items: Vec<Item>, chance: &mut Chance) -> Vec<(f64, Item)> {
    let n = items.len() as f64;
    items
        .into_iter()
        .enumerate()
        .map(|(index, item)| ((index as f64 + chance.unit()) / n, item))
        .collect()
}

fn in_order(mut items: Vec<(f64, Item)>) -> Vec<Item> {
    items.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    items.into_iter().map(|(_, item)| item).collect()
}
