//! Listeners and consensus against print and other programs; each source stands in the check's file.

use fairhearing::stats::consensus::*;
use fairhearing::stats::listener::*;
use fairhearing::stats::table::Table;
use fairhearing::study::Labels;
use proptest::prelude::*;

use crate::reference::Check;

#[test]
fn d_prime_and_criterion_are_those_of_hautus_correction() {
    let check = Check::read("09_signal_detection.json", "sdt_counts");
    let cases = check.expected("cases").as_array().unwrap();
    assert_eq!(cases.len(), 7);
    for (index, case) in cases.iter().enumerate() {
        let count = |name: &str| case[name].as_u64().unwrap() as u32;
        let (hits, false_alarms) = (count("hit"), count("fa"));
        let ours = signal_detection(
            hits,
            hits + count("miss"),
            false_alarms,
            false_alarms + count("cr"),
        )
        .unwrap();
        check.holds(&format!("cases.{index}.log_linear.d_prime"), ours.d_prime);
        check.holds(&format!("cases.{index}.log_linear.c"), ours.criterion);
    }
    assert!(signal_detection(3, 3, 0, 0).is_err());
}

#[test]
fn d_prime_of_rates_is_that_of_macmillan_and_creelman() {
    let check = Check::read("09_signal_detection.json", "sdt_rates_printed");
    for index in 0..3 {
        let number = |name: &str| check.number(&format!("cases.{index}.{name}"));
        let ours = d_prime_of_rates(number("hit_rate"), number("fa_rate"));
        check.holds(&format!("cases.{index}.d_prime"), ours.d_prime);
        check.holds(&format!("cases.{index}.c"), ours.criterion);
    }
}

#[test]
fn latent_classes_are_those_of_dawid_and_skene() {
    for id in [
        "ds1979_anaesthetist",
        "ds_binary_anaesthetist",
        "ds_binary_sim",
    ] {
        let check = Check::read("10_dawid_skene.json", id);
        let (table, raters, items) = repeated_ratings(&check);
        let single = dawid_skene_from_shares(&table, likelihood()).unwrap();
        let several = dawid_skene(&table, likelihood()).unwrap();
        // Four classes have a better maximum than the one the paper's start leads to; two classes have one.
        assert!(
            several.log_likelihood > single.log_likelihood - 1e-6,
            "{id}"
        );
        let compared = if several.log_likelihood > single.log_likelihood + 1e-6 {
            assert_eq!(id, "ds1979_anaesthetist");
            vec![&single]
        } else {
            vec![&single, &several]
        };
        for fit in compared {
            assert!(fit.converged && !fit.swapped, "{id}");
            holds(&check, fit, &raters);
            for (item, name) in items.names().iter().enumerate() {
                for class in 0..fit.prevalence.len() {
                    check.holds(
                        &format!("posterior.{name}.{class}"),
                        fit.probability(item, class),
                    );
                }
            }
        }
    }
}

#[test]
fn latent_classes_of_grouped_patterns_are_those_of_espeland_and_handelman() {
    let check = Check::read("10_dawid_skene.json", "ds_caries");
    let mut judgements = Vec::new();
    let mut patterns = Vec::new();
    for row in check.rows() {
        for _ in 0..row[5].parse::<u32>().unwrap() {
            let item = patterns.len() as u32;
            patterns.push(row[..5].concat());
            judgements.extend(
                (0_u32..)
                    .zip(&row[..5])
                    .map(|(rater, label)| (item, rater, label.parse::<u32>().unwrap() - 1)),
            );
        }
    }
    let table = Table::with_repeats(patterns.len(), 5, 2, &judgements).unwrap();
    let fit = dawid_skene(&table, likelihood()).unwrap();
    let mut raters = Labels::new();
    for rater in 1..=5 {
        raters.number(&format!("dentist{rater}"));
    }
    holds(&check, &fit, &raters);
    for (item, pattern) in patterns.iter().enumerate() {
        check.holds(
            &format!("posterior_class2_by_pattern.{pattern}"),
            fit.probability(item, 1),
        );
    }
}

fn likelihood() -> Config {
    Config {
        prior: 0.0,
        tolerance: 1e-14,
        most_iterations: 5000,
    }
}

#[track_caller]
fn holds(check: &Check, fit: &LatentClass, raters: &Labels) {
    for (class, share) in fit.prevalence.iter().enumerate() {
        check.holds(&format!("class_marginals.{class}"), *share);
    }
    for (rater, name) in raters.names().iter().enumerate() {
        for class in 0..fit.prevalence.len() {
            for label in 0..fit.prevalence.len() {
                check.holds(
                    &format!("error_rates.{name}.{class}.{label}"),
                    fit.error_rate(rater, class, label),
                );
            }
        }
    }
    // 1e-6, as the check's note says
    assert!(
        (fit.log_likelihood - check.number("loglik")).abs() < 1e-6 * 10.0,
        "{}",
        fit.log_likelihood
    );
}

/// Ratings in which a rater may judge an item several times.
fn repeated_ratings(check: &Check) -> (Table, Labels, Labels) {
    let labels = check.expected("labels").as_array().unwrap();
    let (mut items, mut raters) = (Labels::new(), Labels::new());
    let judgements: Vec<_> = check
        .rows()
        .iter()
        .map(|row| {
            let value: i64 = row[2].parse().unwrap();
            let category = labels
                .iter()
                .position(|label| label.as_i64() == Some(value))
                .unwrap();
            (
                items.number(&row[0]),
                raters.number(&row[1]),
                category as u32,
            )
        })
        .collect();
    let table = Table::with_repeats(items.len(), raters.len(), labels.len(), &judgements).unwrap();
    (table, raters, items)
}

#[test]
fn a_listener_without_error_does_not_break_the_fit() {
    // three raters who always agree, one who guesses: with a prior all rates stay inside 0 and 1
    let judgements: Vec<_> = (0..40_u32)
        .flat_map(|item| {
            (0..4_u32).map(move |rater| {
                (
                    item,
                    rater,
                    if rater < 3 { item % 2 } else { (item / 2) % 2 },
                )
            })
        })
        .collect();
    let table = Table::new(40, 4, 2, &judgements).unwrap();
    let fit = dawid_skene(&table, Config::default()).unwrap();
    assert!(
        fit.error_rates
            .iter()
            .all(|rate| *rate > 0.0 && *rate < 1.0)
    );
    assert!(fit.error_rate(0, 1, 1) > 0.99 && (fit.error_rate(3, 1, 1) - 0.5).abs() < 0.1);
    let exact = dawid_skene(&table, likelihood()).unwrap();
    assert!(exact.posterior.iter().all(|p| p.is_finite()) && exact.log_likelihood.is_finite());
}

#[test]
fn the_chance_that_a_guesser_passes_is_binomial() {
    // 20 checks with 17 to be right: .13% and 13% (accuracy .90), 1.6% (.95); 16/13: 1.1%, 6.8%, .7%; 10/8: 5.5%, 7.0%, 1.2%.
    // First principles (binomial), to the digits given.
    for (checks, right, passes, fails_90, fails_95) in [
        (20, 17, 0.0013, 0.13, 0.016),
        (16, 13, 0.011, 0.068, 0.007),
        (10, 8, 0.055, 0.070, 0.012),
    ] {
        let rule = Rule::MinChecksRight { right };
        let found = rule.chances(checks, 0, 0.90);
        assert!(
            (found.guesser_passes.unwrap() - passes).abs() < 0.0005,
            "{found:?}"
        );
        assert!(
            (found.careful_listener_fails.unwrap() - fails_90).abs() < 0.005,
            "{found:?}"
        );
        let better = rule.chances(checks, 0, 0.95);
        assert!(
            (better.careful_listener_fails.unwrap() - fails_95).abs() < 0.0005,
            "{better:?}"
        );
        let as_share = Rule::MinCheckAccuracy {
            share: f64::from(right) / f64::from(checks),
        };
        assert_eq!(as_share.chances(checks, 0, 0.90), found);
    }
}

#[test]
fn drift_is_that_of_an_independent_optimiser() {
    let check = Check::read("firth_logistic.json", "drift");
    for (index, case) in check
        .expected("cases")
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let points: Vec<(f64, bool)> = case["x"]
            .as_array()
            .unwrap()
            .iter()
            .zip(case["y"].as_array().unwrap())
            .map(|(x, y)| (x.as_f64().unwrap(), y.as_u64() == Some(1)))
            .collect();
        let ours = drift(&points).unwrap();
        check.holds(&format!("cases.{index}.slope_per_100"), ours.slope_per_100);
        check.holds(&format!("cases.{index}.p"), ours.p);
    }
}

fn judgements() -> impl Strategy<Value = Vec<(u32, u32, u32)>> {
    proptest::collection::btree_map((0_u32..12, 0_u32..6), 0_u32..2, 1..60).prop_map(|cells| {
        cells
            .into_iter()
            .map(|((item, rater), value)| (item, rater, value))
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swapping_listeners_swaps_their_error_rates_and_nothing_else(cells in judgements()) {
        let turned: Vec<_> = cells.iter().map(|&(i, r, c)| (i, 5 - r, c)).collect();
        let one = dawid_skene_from_shares(&Table::new(12, 6, 2, &cells).unwrap(), Config::default()).unwrap();
        let other = dawid_skene_from_shares(&Table::new(12, 6, 2, &turned).unwrap(), Config::default()).unwrap();
        prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-6);
        for rater in 0..6 {
            prop_assert!((one.error_rate(rater, 1, 1) - other.error_rate(5 - rater, 1, 1)).abs() < 1e-4);
        }
    }

    #[test]
    fn which_words_a_listener_heard_when_changes_no_exclusion(cells in judgements(), turn in 0_u32..12) {
        // the same judgements on tokens of other phases: every token takes another's place
        let moved: Vec<_> = cells.iter().map(|&(i, r, c)| ((i + turn) % 12, r, c)).collect();
        let rules = [
            Rule::MinJudgements { count: 3 },
            Rule::MaxShareOfOneAnswer { share: 0.8 },
            Rule::MinRestOfPanelAgreement { share: 0.5 },
        ];
        let screened = |cells: &[(u32, u32, u32)]| {
            let table = Table::new(12, 6, 2, cells).unwrap();
            let signals: Vec<Signals> = table.by_rater().iter().map(|judged| Signals {
                judgements: judged.len() as u32,
                positive: judged.iter().filter(|(_, c)| *c == 1).count() as u32,
                checks: 0,
                checks_right: 0,
                response_times_ms: Vec::new(),
                repeats: repeats(&[], 0.95),
            }).collect();
            screen(&rules, &table, &signals)
        };
        prop_assert_eq!(screened(&cells), screened(&moved));
    }

    #[test]
    fn a_drift_turned_round_has_the_opposite_slope(answers in proptest::collection::vec(any::<bool>(), 12..60)) {
        let points: Vec<(f64, bool)> = answers.iter().enumerate().map(|(x, y)| (x as f64, *y)).collect();
        let turned: Vec<(f64, bool)> = points.iter().map(|&(x, y)| (-x, y)).collect();
        match (drift(&points), drift(&turned)) {
            (Ok(one), Ok(other)) => {
                prop_assert!((one.slope_per_100 + other.slope_per_100).abs() < 1e-6 * one.slope_per_100.abs().max(1.0));
                prop_assert!((one.p - other.p).abs() < 1e-6);
            }
            (one, other) => prop_assert_eq!(one, other),
        }
    }
}
