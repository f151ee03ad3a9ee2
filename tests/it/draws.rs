//! What is drawn can be counted, and a test over the draws keeps its promise: its smallest p is one over their number,
//! and where nothing happened p falls to .05 in at most 5% of studies.

use std::collections::BTreeSet;

use fairhearing::analysis::Possible;
use fairhearing::stats::change::Alternation;
use fairhearing::stats::change::Better;
use fairhearing::stats::change::Draws;
use fairhearing::stats::change::Order;
use fairhearing::stats::change::Part;
use fairhearing::stats::change::StartPoints;
use fairhearing::stats::change::TwoGroups;
use fairhearing::stats::change::alternation_test;
use fairhearing::stats::change::drawn_test;
use fairhearing::stats::change::start_point_test;
use fairhearing::stats::change::two_group_test;
use fairhearing::study::Assignment;
use fairhearing::study::AssignmentPlan;
use rand::Rng;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

const CONTRAST: &str = "[contrast]\nfrom = \"baseline\"\nto = \"treatment\"\n";

/// A plan for so many children, `C01` on, all of one severity but every other one of another.
fn plan(children: usize, draw: &str) -> AssignmentPlan {
    let listed: Vec<String> = (1..=children)
        .map(|n| {
            let severity = ["mild", "severe"][n % 2];
            let age = 60 + 3 * n;
            format!("{{ code = \"C{n:02}\", age_months = {age}, severity = \"{severity}\" }}")
        })
        .collect();
    let text = format!(
        "children = [{}]\n[draw]\n{draw}\n{CONTRAST}",
        listed.join(", ")
    );
    toml::from_str(&text).unwrap()
}

fn possible(children: usize, draw: &str) -> Possible {
    Possible::of(&plan(children, draw)).unwrap()
}

#[track_caller]
fn check(children: usize, draw: &str, draws: f64, one_sided: f64, two_sided: f64) {
    let numbers = possible(children, draw).numbers();
    assert_eq!(numbers.draws, draws, "{draw}");
    assert!(
        (numbers.smallest_p.unwrap() - one_sided).abs() < 1e-12,
        "{draw}"
    );
    assert!(
        (numbers.smallest_p_two_sided.unwrap() - two_sided).abs() < 1e-12,
        "{draw}"
    );
}

const COHORTS: &str = "design = \"cohorts\"\ncohorts = [\"cued\", \"free\"]\n";

/// The counts of five designs from print, and of three more. Four against four: C(8, 4) = 70 (Edgington & Onghena 2007,
/// ch. 4; also the reference check `perm_4v4`). Fifteen matched pairs: 2¹⁵ = 32,768 (Fisher 1935, The Design of Experiments,
/// § 21; listed one by one by Odiase & Ogbonmwan 2007, J. Math. Stat. 3, 116–121). Three staggered cases with three starts
/// each: 27, and their order alone: 3! = 6 (reference check `rand_mbd3`, after Marascuilo & Busk 1988 and Wampold & Worsham
/// 1986); with both 162 (Koehler & Levin 1998). Sessions of two conditions in any order C(n, n/2), in pairs 2^(n/2) (Bulté &
/// Onghena 2008, Behav. Res. Methods 40, 467–478: completely randomised and randomised block design, `quantity` of their R
/// package SCRT). Six sessions with no more than two running: 14 of C(6, 3) = 20 (Onghena & Edgington 1994, from memory;
/// counted by hand in the test below).
#[test]
fn the_smallest_p_is_one_over_the_counted_number_of_draws() {
    check(8, COHORTS, 70.0, 1.0 / 70.0, 2.0 / 70.0);
    let pairs: Vec<String> = (1..=15)
        .map(|n| format!("[\"C{:02}\", \"C{:02}\"]", 2 * n - 1, 2 * n))
        .collect();
    let pairs = format!("how = \"blocked\"\nblocks = [{}]", pairs.join(", "));
    let fisher = 32_768.0;
    check(
        30,
        &format!("{COHORTS}{pairs}"),
        fisher,
        1.0 / fisher,
        2.0 / fisher,
    );
    let starts = "design = \"start-points\"\nallowed = { C01 = [4, 5, 6], C02 = [7, 8, 9], C03 = [10, 11, 12] }";
    check(3, starts, 27.0, 1.0 / 27.0, 1.0 / 27.0);
    check(
        3,
        &format!("{starts}\ndrawn = \"both\""),
        162.0,
        1.0 / 162.0,
        1.0 / 162.0,
    );
    let dealt = "design = \"start-points\"\ndrawn = \"cases\"\nallowed = { C01 = [4], C02 = [7], C03 = [10] }";
    check(3, dealt, 6.0, 1.0 / 6.0, 1.0 / 6.0);
    let orders = "design = \"alternating\"\nconditions = [\"cued\", \"free\"]\n";
    check(
        1,
        &format!("{orders}sessions = 6\nlongest_run = 2"),
        14.0,
        1.0 / 14.0,
        2.0 / 14.0,
    );
    check(
        1,
        &format!("{orders}sessions = 6"),
        20.0,
        1.0 / 20.0,
        2.0 / 20.0,
    );
    check(
        1,
        &format!("{orders}sessions = 8\npairs = true"),
        16.0,
        1.0 / 16.0,
        2.0 / 16.0,
    );
    // Groups of one severity: C(4, 2) ways in each.
    let strata = format!("{COHORTS}how = \"stratified\"\nby = [\"severity\"]");
    check(8, &strata, 36.0, 1.0 / 36.0, 2.0 / 36.0);
    let sets = "design = \"word-sets\"\nconditions = [\"cued\", \"free\"]\nsets = { a = [\"sail\"], b = [\"sun\"] }";
    check(5, sets, 32.0, 1.0 / 32.0, 2.0 / 32.0);
}

/// Every string of two labels is looked at: another road to the orders without long runs.
#[test]
fn orders_without_long_runs_are_those_that_a_list_of_all_strings_leaves() {
    for (sessions, longest) in [(6, 2), (7, 2), (8, 2), (8, 3), (9, 1), (10, 4)] {
        let fits = |bits: u32| {
            let label = |place: u32| bits >> place & 1;
            let ones = (0..sessions).map(label).sum::<u32>();
            let mut run = 0;
            let mut longest_run = 0;
            for place in 0..sessions {
                run = if place > 0 && label(place) == label(place - 1) {
                    run + 1
                } else {
                    1
                };
                longest_run = longest_run.max(run);
            }
            ones == sessions / 2 && longest_run <= longest
        };
        let counted = (0..1_u32 << sessions).filter(|bits| fits(*bits)).count();
        let ones = sessions as usize / 2;
        let part = Part::Deal {
            counts: vec![sessions as usize - ones, ones],
            longest_run: Some(longest as usize),
        };
        assert_eq!(part.count(), Some(counted as u64), "{sessions} {longest}");
        let all: BTreeSet<_> = (0..counted as u64).map(|n| part.nth(n).unwrap()).collect();
        assert_eq!(all.len(), counted);
        assert!(all.iter().all(|way| part.allows(way)));
        assert_eq!(part.nth(counted as u64), None);
    }
}

#[test]
fn every_draw_is_drawn_equally_often() {
    let draws = Draws::new(vec![Part::deal(vec![2, 1]), Part::Pick(2)]).unwrap();
    let mut rng = ChaCha12Rng::seed_from_u64(11);
    let mut seen = std::collections::BTreeMap::new();
    for _ in 0..6_000 {
        *seen
            .entry(draws.draw(|n| rng.random_range(0..n)))
            .or_insert(0) += 1;
    }
    assert_eq!(seen.len(), 6);
    // Each 1,000 times, give or take four standard errors of a count: √(6000 · 1/6 · 5/6) = 28.9.
    assert!(
        seen.values().all(|n: &i32| (n - 1_000).abs() < 116),
        "{seen:?}"
    );
}

#[test]
fn a_minimised_draw_keeps_the_best_balanced_ways_and_no_other() {
    let found = possible(
        6,
        &format!("{COHORTS}how = \"minimised\"\nby = [\"severity\"]\nkeep = 2"),
    );
    // Three of each severity in threes: 2 + 1 is the best that there is. C(3,2)·C(3,1) twice over.
    assert_eq!(found.numbers().draws, 18.0);
    let by_age = possible(
        6,
        &format!("{COHORTS}how = \"minimised\"\nby = [\"age\"]\nkeep = 2"),
    );
    let mut rng = ChaCha12Rng::seed_from_u64(3);
    let drawn = by_age.draw(|n| rng.random_range(0..n));
    // Ages 63, 66, … 78: the sums of three differ by 3 at least, and do so by 3 in six ways (counted by hand:
    // {1,3,6}, {1,4,5}, {2,3,5} and their rests).
    assert_eq!(by_age.numbers().draws, 6.0);
    let sum: usize = drawn[0]
        .iter()
        .zip(1..)
        .map(|(label, n): (&usize, usize)| label * n)
        .sum();
    assert!([10, 11].contains(&sum), "{drawn:?}");
    let Assignment::Cohorts {
        children, possible, ..
    } = by_age.assignment(&drawn)
    else {
        panic!("cohorts were drawn");
    };
    assert_eq!((children.len(), possible.len()), (6, 6));
}

#[test]
fn what_leaves_no_choice_is_refused_in_a_sentence() {
    let refused =
        |children, draw: &str| Possible::of(&plan(children, draw)).unwrap_err().to_string();
    let alone = format!("{COHORTS}how = \"stratified\"\nby = [\"severity\"]");
    assert!(
        refused(3, &alone).contains("stands alone"),
        "{}",
        refused(3, &alone)
    );
    let twice = "design = \"start-points\"\ndrawn = \"cases\"\nallowed = { C01 = [4], C02 = [4] }";
    assert!(refused(2, twice).contains("twice"), "{}", refused(2, twice));
    let fixed = "design = \"start-points\"\nallowed = { C01 = [4] }";
    assert!(
        refused(1, fixed).contains("one start only"),
        "{}",
        refused(1, fixed)
    );
    let strange = "design = \"start-points\"\nallowed = { C09 = [4, 5] }";
    assert!(
        refused(1, strange).contains("no child that is listed"),
        "{}",
        refused(1, strange)
    );
}

/// Fisher (1935), The Design of Experiments, ch. II: eight cups, four with the milk first. All told right: 1 in 70; three of
/// the four: 17 in 70.
#[test]
fn the_lady_who_tastes_tea_gets_the_printed_chances() {
    let cups = |told: [f64; 8]| Alternation {
        scores: told.to_vec(),
        second: vec![true, false, false, true, true, false, true, false],
        longest_run: None,
        in_pairs: false,
    };
    let mut rng = ChaCha12Rng::seed_from_u64(1);
    let mut p = |told| {
        alternation_test(&[cups(told)], Better::Higher, &mut rng)
            .unwrap()
            .p
    };
    assert!((p([1.0, 0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0]) - 1.0 / 70.0).abs() < 1e-12);
    assert!((p([1.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0, 0.0]) - 17.0 / 70.0).abs() < 1e-12);
}

/// Darwin's maize in Fisher (1935), ch. III: fifteen pairs, crossed less self-fertilised height in eighths of an inch, sum
/// 314; 863 of the 32,768 ways in which the pairs could have been set out give as much. As paired sessions of one child and
/// as matched pairs of children.
#[test]
fn the_pairs_of_maize_get_the_printed_chance() {
    let differences = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48];
    let case = Alternation {
        scores: differences
            .iter()
            .flat_map(|d| [0.0, f64::from(*d)])
            .collect(),
        second: [false, true].repeat(15),
        longest_run: None,
        in_pairs: true,
    };
    let mut rng = ChaCha12Rng::seed_from_u64(1);
    let test = alternation_test(&[case], Better::Higher, &mut rng).unwrap();
    assert_eq!(test.assignments, 32_768.0);
    assert!(
        (test.p * 32_768.0 - 863.0).abs() < 1e-6,
        "{}",
        test.p * 32_768.0
    );
    assert!((test.observed - 314.0 / 15.0).abs() < 1e-9);

    let pairs = || differences.iter().enumerate();
    let matched = TwoGroups {
        values: pairs().flat_map(|(_, d)| [0.0, f64::from(*d)]).collect(),
        second: [false, true].repeat(15),
        block: pairs().flat_map(|(pair, _)| [pair, pair]).collect(),
    };
    let test = two_group_test(&matched, &mut rng).unwrap();
    assert!(test.exact && (test.p_greater - 863.0 / 32_768.0).abs() < 1e-12);
    assert!((test.smallest_p - 2.0 / 32_768.0).abs() < 1e-12);
}

/// Scores that drift and cling to the ones before, and no effect of anything.
fn drifting(sessions: usize, rng: &mut impl Rng) -> Vec<f64> {
    let mut last = 0.0;
    (0..sessions)
        .map(|session| {
            last = 0.6 * last + rng.random_range(-0.1..0.1);
            0.3 + 0.02 * session as f64 + last
        })
        .collect()
}

/// How many of so many studies without any effect give p ≤ .05.
fn false_alarms(mut study: impl FnMut(&mut ChaCha12Rng) -> f64) -> usize {
    let mut rng = ChaCha12Rng::seed_from_u64(20_261_125);
    (0..STUDIES).filter(|_| study(&mut rng) <= 0.05).count()
}

const STUDIES: usize = 2_000;

#[track_caller]
fn at_most_five_percent(false_alarms: usize) {
    // 5% and 3 standard errors of 2,000 studies: .05 + 3·√(.05·.95/2000) = .0646.
    assert!(
        false_alarms as f64 <= 0.0646 * STUDIES as f64,
        "{false_alarms} of {STUDIES}"
    );
    assert!(false_alarms > 0, "a test that never speaks tells nothing");
}

#[test]
fn alternating_conditions_without_effect_are_called_different_in_at_most_five_percent() {
    at_most_five_percent(false_alarms(|rng| {
        let part = Part::Deal {
            counts: vec![5, 5],
            longest_run: Some(3),
        };
        let ways = part.count().unwrap();
        let case = |rng: &mut ChaCha12Rng| Alternation {
            second: part
                .nth(rng.random_range(0..ways))
                .unwrap()
                .iter()
                .map(|label| *label == 1)
                .collect(),
            scores: drifting(10, rng),
            longest_run: Some(3),
            in_pairs: false,
        };
        let cases = [case(rng), case(rng)];
        alternation_test(&cases, Better::Higher, rng).unwrap().p
    }));
}

/// Starts are sessions: the first case misses session 2, and its start, the third, is the third at the others too. All six orders
/// were listed by a script of a few lines beside this program (Python): 2 of them reach what was drawn; by places in each
/// case's own list only the drawn one would.
#[test]
fn a_missing_session_shifts_no_start_of_another_case() {
    let case = |scores: &[f64], sessions: &[usize], start: usize| StartPoints {
        scores: scores.to_vec(),
        sessions: sessions.to_vec(),
        allowed: vec![start],
        start,
    };
    let all = [1, 2, 3, 4, 5, 6, 7, 8];
    let cases = [
        case(
            &[0.0, 0.0, 0.0, 8.0, 0.0, 6.0, 3.0],
            &[1, 3, 4, 5, 6, 7, 8],
            3,
        ),
        case(&[6.0, 0.0, 8.0, 3.0, 7.0, 7.0, 8.0, 3.0], &all, 5),
        case(&[5.0, 3.0, 3.0, 7.0, 4.0, 0.0, 6.0, 8.0], &all, 7),
    ];
    let mut rng = ChaCha12Rng::seed_from_u64(1);
    let test = start_point_test(&cases, Order::Cases, Better::Higher, &mut rng).unwrap();
    assert_eq!(test.assignments, 6.0);
    assert!((test.p - 2.0 / 6.0).abs() < 1e-12, "{}", test.p);
}

#[test]
fn staggered_starts_without_effect_are_called_different_in_at_most_five_percent() {
    for order in [Order::Starts, Order::Cases, Order::Both] {
        at_most_five_percent(false_alarms(|rng| {
            let mut windows = vec![vec![3, 4, 5], vec![6, 7], vec![8, 9, 10], vec![11, 12]];
            if order != Order::Starts {
                for place in (1..windows.len()).rev() {
                    windows.swap(place, rng.random_range(0..=place));
                }
            }
            let cases: Vec<_> = windows
                .into_iter()
                .map(|allowed| StartPoints {
                    scores: drifting(14, rng),
                    sessions: (1..=14).collect(),
                    start: allowed[rng.random_range(0..allowed.len())],
                    allowed,
                })
                .collect();
            start_point_test(&cases, order, Better::Higher, rng)
                .unwrap()
                .p
        }));
    }
}

#[test]
fn cohorts_without_difference_are_called_different_in_at_most_five_percent() {
    at_most_five_percent(false_alarms(|rng| {
        let part = Part::deal(vec![4, 4]);
        let way = part.nth(rng.random_range(0..70)).unwrap();
        let groups = TwoGroups {
            values: drifting(8, rng),
            second: way.iter().map(|label| *label == 1).collect(),
            block: vec![0; 8],
        };
        two_group_test(&groups, rng).unwrap().p_two_sided
    }));
}

#[test]
fn minimised_cohorts_and_sets_of_words_without_difference_are_called_different_in_at_most_five_percent()
 {
    let list: Vec<Vec<usize>> = (0..70)
        .map(|n| Part::deal(vec![4, 4]).nth(n).unwrap())
        .filter(|way| way[..4].iter().sum::<usize>() == 2)
        .collect();
    let minimised = Draws::new(vec![Part::Listed(list)]).unwrap();
    let sets = Draws::new(vec![Part::deal(vec![1, 1]); 7]).unwrap();
    for draws in [minimised, sets] {
        at_most_five_percent(false_alarms(|rng| {
            let drawn = draws.draw(|n| rng.random_range(0..n));
            let scores: Vec<Vec<f64>> = drawn.iter().map(|way| drifting(way.len(), rng)).collect();
            let value = |part: usize, way: &[usize]| {
                let signed =
                    |(label, score): (&usize, &f64)| if *label == 1 { *score } else { -score };
                way.iter().zip(&scores[part]).map(signed).sum()
            };
            drawn_test(&draws, &drawn, value, rng).unwrap().p
        }));
    }
}
