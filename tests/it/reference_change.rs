//! Measures of change and randomisation tests against published series and other implementations.
//!
//! `tests/reference/expected/11_single_case.json`, `12_randomization.json`, `13_reliable_change.json`: each check there names its
//! publication, what was seen in print, and what a second, public implementation gave. Tolerances are the files' own.

use std::collections::BTreeMap;
use std::path::Path;

use fairhearing::stats::change::Better;
use fairhearing::stats::change::ChangeError;
use fairhearing::stats::change::Order;
use fairhearing::stats::change::PermutationTest;
use fairhearing::stats::change::PhaseChanges;
use fairhearing::stats::change::RandomisationTest;
use fairhearing::stats::change::Reliability;
use fairhearing::stats::change::Smd;
use fairhearing::stats::change::StartPoints;
use fairhearing::stats::change::TwoGroups;
use fairhearing::stats::change::hedges_g;
use fairhearing::stats::change::log_response_ratio;
use fairhearing::stats::change::nap;
use fairhearing::stats::change::phase_change_test;
use fairhearing::stats::change::pnd;
use fairhearing::stats::change::smd_baseline;
use fairhearing::stats::change::smd_pooled;
use fairhearing::stats::change::start_point_test;
use fairhearing::stats::change::tau_u;
use fairhearing::stats::change::two_group_test;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use serde_json::Value;

const SINGLE_CASE: &str = include_str!("../reference/expected/11_single_case.json");
const RANDOMISATION: &str = include_str!("../reference/expected/12_randomization.json");
const RELIABLE_CHANGE: &str = include_str!("../reference/expected/13_reliable_change.json");

#[test]
fn overlap_measures_and_ratios_give_the_published_values() {
    let mut compared = 0;
    for check in checks(SINGLE_CASE) {
        let (id, expected) = (check["id"].as_str().unwrap(), &check["expected"]);
        let tolerance = check["tolerance"].as_f64().unwrap();
        let wide = check["tolerance_overrides"]["nap_ci95_newcombe5"]
            .as_f64()
            .unwrap();
        let (from, to) = phases(check["input"].as_str().unwrap());
        let better = if expected["direction"] == "decrease" {
            Better::Lower
        } else {
            Better::Higher
        };
        let near = |name: &str, ours: f64, theirs: &Value| {
            near(&format!("{id} {name}"), ours, theirs, tolerance);
        };
        let ours = nap(&from, &to, better, 0.95).unwrap();
        near("nap", ours.estimate, &expected["nap"]);
        near("nap se", ours.se.unwrap(), &expected["nap_se_unbiased"]);
        for (limit, theirs) in ours
            .ci
            .iter()
            .zip(expected["nap_ci95_newcombe5"].as_array().unwrap())
        {
            self::near(&format!("{id} nap ci"), *limit, theirs, wide);
        }
        near("tau", ours.as_tau().estimate, &expected["tau"]);
        near(
            "tau-u",
            tau_u(&from, &to, better).unwrap(),
            &expected["tau_u_A_over_mn"],
        );
        near("pnd", pnd(&from, &to, better).unwrap(), &expected["pnd"]);
        let smd = &expected["smd"];
        compare_smd(
            id,
            smd_baseline(&from, &to, better, 0.95),
            &smd["within_case_baseline_sd"],
            tolerance,
        );
        if !smd["within_case_pooled_sd"].is_null() {
            compare_smd(
                id,
                smd_pooled(&from, &to, better, 0.95),
                &smd["within_case_pooled_sd"],
                tolerance,
            );
        }
        let lrr = &expected["lrr"];
        let items = lrr["truncation_D"].as_f64();
        let ratio = log_response_ratio(&from, &to, better, items, 0.95).unwrap();
        near("lrr", ratio.estimate, &lrr["lrr"]);
        near("lrr se", ratio.se, &lrr["se"]);
        near("lrr low", ratio.ci[0], &lrr["ci95"][0]);
        near("lrr high", ratio.ci[1], &lrr["ci95"][1]);
        compared += 1;
    }
    assert_eq!(compared, 11);
}

#[track_caller]
fn compare_smd(id: &str, ours: Result<Smd, ChangeError>, theirs: &Value, tolerance: f64) {
    if theirs.is_null() {
        assert_eq!(ours, Err(ChangeError::Constant), "{id}");
        return;
    }
    let ours = ours.unwrap();
    near(id, ours.estimate, &theirs["g"], tolerance);
    near(id, ours.se, &theirs["se"], tolerance);
    near(id, ours.ci[0], &theirs["ci95"][0], tolerance);
    near(id, ours.ci[1], &theirs["ci95"][1], tolerance);
}

#[test]
fn start_points_are_tested_among_those_that_could_have_been_drawn() {
    for id in ["rand_ab10", "rand_ab20"] {
        let check = check(RANDOMISATION, id);
        let cases = start_points(check["input"].as_str().unwrap());
        let test = start_point_test(&cases, Order::Starts, Better::Higher, &mut seeded()).unwrap();
        compare_randomisation(id, &test, &check["expected"]);
    }
    let check = check(RANDOMISATION, "rand_mbd3");
    let cases = start_points(check["input"].as_str().unwrap());
    for (order, name) in [
        (Order::Starts, "random_starts"),
        (Order::Cases, "wampold_worsham_permuted_starts"),
        (Order::Both, "koehler_levin_windows_and_order"),
    ] {
        let test = start_point_test(&cases, order, Better::Higher, &mut seeded()).unwrap();
        compare_randomisation(name, &test, &check["expected"][name]);
    }
}

#[test]
fn phase_changes_are_tested_among_all_splits() {
    let check = check(RANDOMISATION, "rand_abab");
    let rows = rows(check["input"].as_str().unwrap());
    let scores: Vec<f64> = rows
        .iter()
        .map(|row| row["value"].parse().unwrap())
        .collect();
    let changes = (1..rows.len())
        .filter(|at| rows[*at]["phase"] != rows[*at - 1]["phase"])
        .map(|at| at + 1)
        .collect();
    let case = PhaseChanges {
        scores,
        changes,
        min_per_phase: 4,
    };
    // The check counts A above B, as where a fall is hoped for.
    let test = phase_change_test(&case, Better::Lower, &mut seeded()).unwrap();
    compare_randomisation("rand_abab", &test, &check["expected"]);
}

#[test]
fn two_cohorts_are_tested_over_all_partitions() {
    for id in ["perm_4v4", "perm_4v4_extreme"] {
        let check = check(RANDOMISATION, id);
        let expected = &check["expected"];
        let (first, second) = cohorts(check["input"].as_str().unwrap());
        let groups = TwoGroups {
            values: first.iter().chain(&second).copied().collect(),
            second: (0..first.len() + second.len())
                .map(|i| i >= first.len())
                .collect(),
            block: vec![0; first.len() + second.len()],
        };
        let test: PermutationTest = two_group_test(&groups, &mut seeded()).unwrap();
        near(id, test.observed, &expected["observed"], 1e-9);
        near(id, test.p_greater, &expected["p_greater"], 1e-9);
        near(id, test.p_less, &expected["p_less"], 1e-9);
        near(id, test.p_two_sided, &expected["p_two_sided_abs"], 1e-9);
        near(id, test.arrangements, &expected["n_assignments"], 0.0);
        assert!(test.exact);
        near(id, test.smallest_p, &Value::from(2.0 / 70.0), 1e-12);
        let g = hedges_g(&first, &second).unwrap();
        near(id, g.estimate, &expected["hedges"]["g_exact"], 1e-9);
        near(id, g.se, &expected["hedges"]["se_large_sample"], 1e-9);
    }
}

#[test]
fn reliable_change_is_that_of_the_published_example() {
    let all = checks(RELIABLE_CHANGE);
    let mut cases = vec![all[0]["expected"].clone()];
    cases.extend(
        all[1]["expected"]["cases"]
            .as_array()
            .unwrap()
            .iter()
            .cloned(),
    );
    for case in &cases {
        let test = Reliability::new(
            case["sd"].as_f64().unwrap(),
            case["reliability"].as_f64().unwrap(),
        )
        .unwrap();
        near("sem", test.sem(), &case["sem"], 1e-9);
        near("s_diff", test.se_of_difference(), &case["s_diff"], 1e-9);
        near(
            "mdc95",
            test.minimal_detectable_change(0.95),
            &case["mdc95_exact_z"],
            1e-9,
        );
        near(
            "mdc90",
            test.minimal_detectable_change(0.90),
            &case["mdc90_exact_z"],
            1e-9,
        );
        match case["rci"].as_f64() {
            Some(_) => {
                let (pre, post) = (
                    case["pre"].as_f64().unwrap(),
                    case["post"].as_f64().unwrap(),
                );
                near(
                    "rci",
                    test.reliable_change(pre, post).unwrap(),
                    &case["rci"],
                    1e-9,
                );
            }
            None => assert_eq!(
                test.reliable_change(1.0, 2.0),
                Err(ChangeError::Reliability)
            ),
        }
    }
    assert_eq!(cases.len(), 6);
}

#[track_caller]
fn compare_randomisation(id: &str, ours: &RandomisationTest, theirs: &Value) {
    near(id, ours.observed, &theirs["observed"], 1e-9);
    near(id, ours.p, &theirs["p_greater"], 1e-9);
    near(id, ours.p_two_sided, &theirs["p_two_sided_abs"], 1e-9);
    near(id, ours.assignments, &theirs["n_assignments"], 0.0);
    let smallest = 1.0 / theirs["n_assignments"].as_f64().unwrap();
    near(id, ours.smallest_p, &Value::from(smallest), 1e-12);
    assert!(ours.exact, "{id}");
}

#[track_caller]
fn near(name: &str, ours: f64, theirs: &Value, tolerance: f64) {
    let theirs = theirs
        .as_f64()
        .unwrap_or_else(|| panic!("{name}: nothing to compare with"));
    // The files print twelve digits.
    let rounding = 1e-11 * theirs.abs();
    assert!(
        (ours - theirs).abs() <= tolerance + rounding,
        "{name}: {ours}, expected {theirs}"
    );
}

fn checks(json: &str) -> Vec<Value> {
    serde_json::from_str(json).unwrap()
}

fn check(json: &str, id: &str) -> Value {
    checks(json)
        .into_iter()
        .find(|check| check["id"] == id)
        .unwrap()
}

fn seeded() -> ChaCha12Rng {
    ChaCha12Rng::seed_from_u64(1)
}

fn rows(input: &str) -> Vec<BTreeMap<String, String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(input);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

fn phases(input: &str) -> (Vec<f64>, Vec<f64>) {
    let rows = rows(input);
    let first = rows[0]["phase"].clone();
    let of = |wanted: bool| {
        rows.iter()
            .filter(|row| (row["phase"] == first) == wanted)
            .map(|row| row["value"].parse().unwrap())
            .collect()
    };
    (of(true), of(false))
}

fn start_points(input: &str) -> Vec<StartPoints> {
    let mut cases: BTreeMap<String, StartPoints> = BTreeMap::new();
    for row in rows(input) {
        let case = cases
            .entry(row["case"].clone())
            .or_insert_with(|| StartPoints {
                scores: Vec::new(),
                sessions: Vec::new(),
                allowed: row["allowed_starts"]
                    .split(' ')
                    .map(|s| s.parse().unwrap())
                    .collect(),
                start: row["actual_start"].parse().unwrap(),
            });
        case.scores.push(row["value"].parse().unwrap());
        case.sessions.push(case.scores.len());
    }
    cases.into_values().collect()
}

fn cohorts(input: &str) -> (Vec<f64>, Vec<f64>) {
    let rows = rows(input);
    let group = |name: &str| {
        rows.iter()
            .filter(|row| row["group"] == name)
            .map(|row| row["value"].parse().unwrap())
            .collect::<Vec<f64>>()
    };
    (group("C"), group("T"))
}
