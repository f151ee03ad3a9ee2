//! Intervals of a share against Newcombe (1998), Table I, and statsmodels 0.15.0.

use fairhearing::stats::proportion::wilson;
use proptest::prelude::*;

use crate::reference::Check;

#[test]
fn wilson_intervals_are_those_of_newcombe_1998() {
    wilson_of("ci_newcombe1998");
}

#[test]
fn wilson_intervals_of_small_word_lists_are_those_of_statsmodels() {
    wilson_of("ci_word_scores");
}

fn wilson_of(id: &str) {
    let check = Check::read("07_proportion_intervals.json", id);
    let cases = check.expected("cases").as_array().unwrap();
    assert!(cases.len() >= 4);
    for (index, case) in cases.iter().enumerate() {
        let number = |name: &str| case[name].as_f64().unwrap();
        let ours = wilson(number("x"), number("n"), number("conf"));
        check.holds_interval_of(&case["wilson"], &format!("{id}, case {index}"), ours);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn successes_and_failures_mirror_each_other(x in 0_u32..200, more in 0_u32..200, level in 0.5..0.999_f64) {
        let (x, n) = (f64::from(x), f64::from(x + more));
        let [low, high] = wilson(x, n, level);
        let [mirrored_low, mirrored_high] = wilson(n - x, n, level);
        prop_assert!((low - (1.0 - mirrored_high)).abs() < 1e-12);
        prop_assert!((high - (1.0 - mirrored_low)).abs() < 1e-12);
        prop_assert!(n == 0.0 || (low <= x / n && x / n <= high && low < high));
    }
}
