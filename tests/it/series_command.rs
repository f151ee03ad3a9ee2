//! The commands `series` and `precision` on the files of people.

use std::fmt::Write;

use crate::program::Written;
use crate::program::reference_file;
use crate::program::run;

#[test]
fn a_series_gives_the_published_measures_and_tests_the_drawn_start() {
    let mut series = String::from("case,session,phase,value\n");
    let mut rows = csv::Reader::from_path(reference_file("rand_ab10.csv")).unwrap();
    for row in rows.records() {
        let row = row.unwrap();
        let session: u32 = row[1].parse().unwrap();
        let phase = if session < 5 { "baseline" } else { "treatment" };
        writeln!(series, "{},{session},{phase},{}", &row[0], &row[2]).unwrap();
    }
    let drawn = r#"{"design":"start_points","cases":{"1":{"start":5,"allowed":[4,5,6,7,8]}}}"#;
    let files = Written::new(&[("drawn.json", drawn), ("odd.json", "{\"design\":\"dice\"}")]);
    let found = run(
        &[
            "series",
            "-",
            "--assignment",
            &files.path("drawn.json"),
            "--json",
        ],
        &series,
    )
    .json();
    // tests/reference/expected/12_randomization.json, rand_ab10
    let test = &found["randomisation"];
    assert!((test["p"].as_f64().unwrap() - 0.2).abs() < 1e-12);
    assert!((test["smallest_p"].as_f64().unwrap() - 0.2).abs() < 1e-12);
    assert_eq!(test["assignments"], 5.0);
    assert_eq!(found["changes"][0]["nap"]["estimate"], 1.0);
    assert!(found["changes"][0].get("mdc95").is_none());
    let refused = run(
        &["series", "-", "--assignment", &files.path("odd.json")],
        &series,
    );
    assert!(
        refused.refusal().contains("is no assignment"),
        "{}",
        refused.err
    );
    let without = run(&["series", "-", "--json"], &series).json();
    assert!(without["reasons"]["randomisation"].is_string());
    let comma = run(
        &["series", "-"],
        "case,session,phase,value\n1,1,baseline,\"0,5\"\n",
    );
    assert!(comma.refusal().contains("0.5"), "{}", comma.err);
}

#[test]
fn a_series_without_values_or_without_a_phase_says_which() {
    for (rows, reason) in [
        ("", "there are no values"),
        (
            "1,1,baseline,3\n",
            "no session has the phase `treatment` (there are: `baseline`)",
        ),
        (
            "1,1,before,3\n1,2,after,4\n",
            "no session has the phase `baseline` or `treatment` (there are: `before`, `after`)",
        ),
    ] {
        let file = format!("case,session,phase,value\n{rows}");
        let found = run(&["series", "-", "--json"], &file).json();
        assert_eq!(found["reasons"]["changes"], reason);
    }
}

#[test]
fn conditions_that_alternate_are_tested_over_the_orders_that_were_possible() {
    let series = "case,session,phase,value,condition\n\
        1,1,treatment,0.2,free\n1,2,treatment,0.5,cued\n1,3,treatment,0.6,cued\n1,4,treatment,0.3,free\n";
    let files = Written::new(&[("pairs.json", r#"{"design":"alternating","pairs":true}"#)]);
    let found = run(
        &[
            "series",
            "-",
            "--assignment",
            &files.path("pairs.json"),
            "--json",
        ],
        series,
    )
    .json();
    let test = &found["randomisation"];
    assert_eq!(test["assignments"], 4.0);
    assert!((test["observed"].as_f64().unwrap() - 0.3).abs() < 1e-12);
    assert!((test["p"].as_f64().unwrap() - 0.25).abs() < 1e-12);
}

#[test]
fn precision_answers_how_many_listeners_are_enough() {
    let ratings = std::fs::read_to_string(reference_file("interval_complete_ratings.csv")).unwrap();
    let tokens = reference_file("interval_complete_tokens.csv");
    let found = run(
        &[
            "precision",
            "-",
            "--tokens",
            &tokens,
            "--half-width",
            "0.1",
            "--json",
        ],
        &ratings,
    )
    .json();
    let facets: Vec<&str> = found["components"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["facet"].as_str().unwrap())
        .collect();
    assert!(
        facets.contains(&"child") && facets.contains(&"listener x session"),
        "{facets:?}"
    );
    let shares: f64 = found["components"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["share"].as_f64().unwrap())
        .sum();
    assert!((shares - 1.0).abs() < 1e-9);
    let forecast = found["forecast"].as_array().unwrap();
    let se = |listeners: u64, tokens: u64| {
        let row = forecast
            .iter()
            .find(|row| row["listeners"] == listeners && row["tokens"] == tokens);
        row.unwrap()["se"].as_f64().unwrap()
    };
    assert!(se(30, 10) < se(3, 10) && se(9, 100) < se(9, 10));
    let reached = found["reached_by"].as_array().unwrap();
    assert!(
        reached.iter().any(|row| row["listeners"].is_number()),
        "{reached:?}"
    );
    let none = run(
        &["precision", "-", "--tokens", &tokens, "--json"],
        "item,rater,value\n",
    )
    .json();
    assert!(none["reasons"]["forecast"].is_string());
}

/// Before, half a million points rise by one; after, each is half a point higher than one before: of n² pairs
/// n(n + 1)/2 are better, and within the first phase all n(n − 1)/2 are.
#[test]
fn a_million_values_of_one_case_give_what_one_counts_on_paper() {
    const POINTS: u32 = 500_000;
    let mut series = String::from("case,session,phase,value\n");
    for point in 0..POINTS {
        writeln!(series, "A,{},baseline,{point}", point + 1).unwrap();
    }
    for point in 0..POINTS {
        // 7 and the number of points have no factor in common, so each comes once.
        let value = u64::from(point) * 7 % u64::from(POINTS);
        writeln!(series, "A,{},treatment,{value}.5", POINTS + point + 1).unwrap();
    }
    let found = run(&["series", "-", "--bootstrap", "0", "--json"], &series).json();
    let change = &found["changes"][0];
    let n = f64::from(POINTS);
    let near = |field: &serde_json::Value, expected: f64| {
        let found = field["estimate"].as_f64().unwrap();
        assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    };
    near(&change["nap"], (n + 1.0) / (2.0 * n));
    near(&change["tau"], 1.0 / n);
    near(&change["tau_u"], 1.0 / n - (n - 1.0) / (2.0 * n));
}

#[test]
fn a_million_values_of_many_cases_each_have_their_change() {
    let mut series = String::from("case,session,phase,value\n");
    for case in 0..100_000 {
        for session in 1..=10 {
            let (phase, gain) = if session < 5 {
                ("baseline", 0)
            } else {
                ("treatment", 4)
            };
            let value = (case * 7 + session * 3) % 5 + gain;
            writeln!(series, "K{case},{session},{phase},{value}").unwrap();
        }
    }
    let found = run(&["series", "-", "--bootstrap", "10", "--json"], &series).json();
    let changes = found["changes"].as_array().unwrap();
    assert_eq!(changes.len(), 100_000);
    // Every value but the best of before and the worst of after, which are equal, is higher after.
    assert!(
        changes
            .iter()
            .all(|change| change["nap"]["estimate"].as_f64().unwrap() > 0.9)
    );
}

#[test]
fn a_million_judgements_give_components_and_a_forecast() {
    let mut ratings = String::from("token,listener,judgement\n");
    let mut tokens = String::from("token,child,session,phase,word\n");
    for token in 0..100_000_u32 {
        let (child, session, word) = (token % 50, token / 50 % 20, token / 1000);
        let phase = if session < 10 {
            "baseline"
        } else {
            "treatment"
        };
        writeln!(tokens, "t{token},C{child},{},{phase},w{word}", session + 1).unwrap();
        for place in 0..10 {
            let listener = (token * 7 + place * 11) % 120;
            let correct = (token * 31 + place * 17) % 10 < 3 + child / 10;
            writeln!(ratings, "t{token},L{listener},{}", u8::from(correct)).unwrap();
        }
    }
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let path = files.path("tokens.csv");
    let found = run(&["precision", "-", "--tokens", &path, "--json"], &ratings).json();
    let shares: f64 = found["components"]
        .as_array()
        .unwrap()
        .iter()
        .map(|component| component["share"].as_f64().unwrap())
        .sum();
    assert!((shares - 1.0).abs() < 1e-9, "{shares}");
    assert!(!found["forecast"].as_array().unwrap().is_empty());
}
