//! Links between panels: how lenient one is beside another, how many words tell it, and which count.

use std::collections::BTreeMap;

use fairhearing::stats::interval::Leniency;
use fairhearing::stats::interval::LinkToken;
use fairhearing::stats::interval::Linking;
use fairhearing::stats::interval::linkings;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use crate::linking::expit;
use crate::linking::normal;

#[test]
fn a_panel_is_as_lenient_as_it_was_made_and_the_odds_ratio_is_that_of_a_book() {
    // Two tables with the odds ratio 4 each: (c(m − a)/N) / (a(n − c)/N), worked by hand.
    let token = |a: f64, m: f64, c: f64, n: f64| LinkToken {
        reference: [a, m],
        panel: [c, n],
    };
    let tokens = [token(5.0, 10.0, 8.0, 10.0), token(2.0, 10.0, 5.0, 10.0)];
    let found = Leniency::of(&tokens, 0.95);
    assert!((found.shift.unwrap() - 4.0_f64.ln()).abs() < 1e-12);
    assert!((found.difference - 0.3).abs() < 1e-12);
    assert_eq!(found.links, 2);
    assert!(!Linking::of(vec![(0, found)], 0.5, 0.95).enough);

    let mut rng = ChaCha12Rng::seed_from_u64(9);
    let many: Vec<LinkToken> = (0..4_000)
        .map(|_| {
            let quality = 2.0 * normal(&mut rng);
            let mut heard = |leniency: f64| {
                let correct = (0..9)
                    .filter(|_| rng.random_bool(expit(quality + leniency)))
                    .count();
                [correct as f64, 9.0]
            };
            let reference = heard(0.0);
            LinkToken {
                reference,
                panel: heard(0.8),
            }
        })
        .collect();
    let found = Leniency::of(&many, 0.95);
    let (shift, se) = (found.shift.unwrap(), found.se.unwrap());
    assert!((shift - 0.8).abs() < 4.0 * se && se < 0.05, "{shift} {se}");
    assert!(Linking::of(vec![(0, found)], 0.05, 0.95).enough);
}

#[test]
fn too_few_links_say_how_many_would_do() {
    let tokens: Vec<LinkToken> = (0..12)
        .map(|n| LinkToken {
            reference: [4.0, 9.0],
            panel: [if n % 2 == 0 { 6.0 } else { 2.0 }, 9.0],
        })
        .collect();
    let found = Leniency::of(&tokens, 0.95);
    // 12 differences of ±2/9: sd = (2/9)·√(12/11) = .23211; t(.975, 38) · .23211/√39 = 2.0244 · .03717 = .0752, and of 40
    // 2.0227 · .03670 = .0742 (t from any table).
    assert!((found.ci.unwrap()[1] - 2.2010 * 0.232_112 / 12.0_f64.sqrt()).abs() < 1e-4);
    let linking = Linking::of(vec![(0, found)], 0.075, 0.95);
    assert_eq!((linking.links_needed, linking.enough), (40, false));
}

#[test]
fn links_to_two_panels_count_together_and_a_token_that_three_panels_heard_counts_once() {
    // To each of two panels 12 tokens whose differences are ±2/9 about none and about 3/9: the spread is .23211 within each,
    // t(.975, 37) · .23211/√39 = 2.0262 · .03717 = .0753, of 40 it is 2.0244 · .03670 = .0743 (t from any table).
    let panel = |number: usize, more: f64| -> BTreeMap<usize, [f64; 2]> {
        (0..12)
            .map(|n| (100 * number + n, [4.0 - more, 9.0]))
            .collect()
    };
    let (first, second) = (panel(1, 0.0), panel(2, 3.0));
    let said = |n: usize| if n.is_multiple_of(2) { 6.0 } else { 2.0 };
    let mut third: BTreeMap<usize, [f64; 2]> = first
        .keys()
        .chain(second.keys())
        .map(|token| (*token, [said(*token), 9.0]))
        .collect();
    let found = linkings(&[&first, &second, &third], 0.075, 0.95);
    assert_eq!((found[2].links, found[2].links_needed), (24, 40));
    assert!(!found[2].enough && linkings(&[&first, &second, &third], 0.1, 0.95)[2].enough);
    // By one panel 12 tokens would not do there: t(.975, 11) · .23211/√12 = 2.2010 · .06700 = .147.
    assert!(!linkings(&[&first, &third], 0.1, 0.95)[1].enough);

    // The second panel hears the first one's tokens as well: they link the third to the first alone.
    let mut both = second.clone();
    both.extend(&first);
    third.insert(999, [1.0, 9.0]);
    let found = linkings(&[&first, &both, &third], 0.075, 0.95);
    let links: Vec<_> = found[2]
        .beside
        .iter()
        .map(|(at, l)| (*at, l.links))
        .collect();
    assert_eq!(links, [(0, 12), (1, 12)]);
}
