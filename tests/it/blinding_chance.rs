//! Chance is frozen: no upgrade moves a single draw, a side or a place.

use fairhearing::blinding::Candidate;
use fairhearing::blinding::Extra;
use fairhearing::blinding::Seed;
use fairhearing::blinding::SittingDesign;
use fairhearing::blinding::allocate;
use fairhearing::blinding::answer_side;
use fairhearing::blinding::order;
use fairhearing::blinding::target_order;
use fairhearing::study::AnswerSide;

/// The key stream of `ChaCha` with 12 rounds for a key and nonce of zeros begins
/// 9bf49a6a0755f953 811fce125f2683d5 0429c3bb49e07414 7e0089a52eae155f (published test vectors of
/// draft-strombergson-chacha-test-vectors, TC1, 256-bit key). As little-endian numbers these are
/// 0x53f955076a9af49b, 0xd583265f12ce1f81, 0x1474e049bbc32904, 0x5f15ae2ea589007e; the expected
/// draws are theirs, by Python 3.11: `x % 1000`, and `(x >> 11) / 2**53`.
#[test]
fn draws_are_those_of_the_published_key_stream() {
    let mut chance = Seed::new([0; 32]).sitting(0);
    let drawn = [(); 4].map(|()| chance.below(1000));
    assert_eq!(drawn, DRAWN);
    let mut chance = Seed::new([0; 32]).sitting(0);
    let units = [(); 2].map(|()| chance.unit().to_bits());
    assert_eq!(units, UNITS.map(f64::to_bits));
}

const DRAWN: [usize; 4] = [123, 281, 660, 534];
const UNITS: [f64; 2] = [0.328_023_256_598_139_8, 0.834_032_438_479_703_2];

#[test]
fn each_sitting_and_each_seed_has_its_own_chance() {
    let draws = |seed: u8, sitting: u64| {
        let mut chance = Seed::new([seed; 32]).sitting(sitting);
        [(); 4].map(|()| chance.below(1 << 40))
    };
    assert_eq!(draws(1, 7), draws(1, 7));
    assert_ne!(draws(1, 7), draws(1, 8));
    assert_ne!(draws(1, 7), draws(2, 7));
    assert_eq!(format!("{:?}", Seed::new([1; 32])), "Seed(…)");
}

/// With 6,000 draws each count of six has a standard deviation of 28.9 (binomial); the bound is
/// four of them.
#[test]
fn every_order_of_three_is_equally_likely() {
    let mut counts = std::collections::BTreeMap::new();
    let mut chance = Seed::new([3; 32]).sitting(1);
    for _ in 0..6000 {
        let mut list = [0, 1, 2];
        chance.shuffle(&mut list);
        *counts.entry(list).or_insert(0_i32) += 1;
    }
    assert_eq!(counts.len(), 6);
    for (list, count) in counts {
        assert!((count - 1000).abs() < 116, "{list:?} came {count} times");
    }
}

#[test]
fn sides_differ_by_at_most_one_in_every_prefix_and_their_order_is_random() {
    let mut first_left = 0;
    for seed in 0..200_u8 {
        let seed = Seed::new([seed; 32]);
        let mut left = 0_i32;
        for listener in 1..=41 {
            let side = answer_side(listener, &seed);
            left += if side == AnswerSide::Left { 1 } else { -1 };
            assert!(left.abs() <= 1, "after listener {listener}: {left}");
        }
        first_left += i32::from(answer_side(1, &seed) == AnswerSide::Left);
    }
    // 200 draws of one half: standard deviation 7.1; the bound is four of them.
    assert!((first_left - 100).abs() < 29, "{first_left} of 200");
}

#[test]
fn every_target_comes_at_every_place_equally_often() {
    for n_targets in 1..=4_usize {
        let mut firsts = std::collections::BTreeSet::new();
        for seed in 0..40_u8 {
            let seed = Seed::new([seed; 32]);
            let mut counts = vec![vec![0; n_targets]; n_targets];
            for listener in 1..=3 * n_targets as u64 {
                let order = target_order(listener, 1, n_targets, &seed);
                for (place, target) in order.iter().enumerate() {
                    counts[place][*target] += 1;
                }
            }
            assert!(
                counts.iter().flatten().all(|count| *count == 3),
                "{counts:?}"
            );
            firsts.insert(target_order(1, 1, n_targets, &seed)[0]);
        }
        assert_eq!(firsts.len(), n_targets, "the first target is random");
    }
}

#[test]
fn a_further_sitting_begins_with_the_next_target() {
    let seed = Seed::new([5; 32]);
    let first = target_order(7, 1, 3, &seed);
    let second = target_order(7, 2, 3, &seed);
    assert_eq!(second, [first[1], first[2], first[0]]);
    assert_eq!(target_order(1, 1, 0, &seed), Vec::<usize>::new());
}

/// Twelve tokens: three children, two phases, one session each, two words.
fn candidates() -> Vec<Candidate> {
    (0..12)
        .map(|token| Candidate {
            token,
            stratum: token / 2,
            phase: (token / 2) % 2,
            child: token / 4,
            word: token % 2,
            committed: token % 2,
            may_hear: token != 8,
        })
        .collect()
}

fn extra(token: u32) -> Extra {
    Extra {
        token,
        child: Some(token),
        word: Some(token),
    }
}

/// Written out on purpose: a change here would change every order that a recorded seed gives.
#[test]
fn the_whole_order_of_one_seed_is_frozen() {
    let seed = Seed::new([42; 32]);
    let mut chance = seed.sitting(1);
    let chosen = allocate(&candidates(), 9, 3, &mut chance);
    assert_eq!(chosen, CHOSEN);
    let design = SittingDesign {
        repeats: 3,
        repeat_distance: 4,
    };
    let slots = order(
        &candidates(),
        &[extra(20), extra(21)],
        &[extra(30), extra(31)],
        &[extra(40), extra(41)],
        &design,
        &mut chance,
    )
    .unwrap();
    let written: Vec<String> = slots
        .iter()
        .map(|slot| format!("{} {}", slot.kind, slot.token))
        .collect();
    assert_eq!(written, ORDER);
    let sides: Vec<&str> = (1..=10).map(|n| answer_side(n, &seed).as_str()).collect();
    assert_eq!(sides.join(" "), SIDES);
}

const CHOSEN: &[u32] = &[6, 10, 2, 0, 4, 5, 3, 7, 11];
const ORDER: &[&str] = &[
    "practice 40",
    "practice 41",
    "warm-up 30",
    "warm-up 31",
    "main 2",
    "main 9",
    "check 21",
    "main 10",
    "main 7",
    "main 8",
    "main 1",
    "main 6",
    "check 20",
    "repeat 8",
    "main 5",
    "main 0",
    "main 11",
    "main 4",
    "main 3",
    "repeat 10",
    "repeat 5",
];
const SIDES: &str = "right left right left left right right left right left";
