//! The distributions against another library's values on a grid that reaches into the tails.
//!
//! `tests/reference/data/distribution_grid.csv`: scipy 1.17, tail sums with 60 digits. Tolerance: 1e-9 relative
//! for probabilities between 1e-12 and 1 − 1e-12, which is what that library itself holds there.

use fairhearing::stats::special::Beta;
use fairhearing::stats::special::Binomial;
use fairhearing::stats::special::ChiSquared;
use fairhearing::stats::special::FisherF;
use fairhearing::stats::special::Hypergeometric;
use fairhearing::stats::special::StudentT;
use fairhearing::stats::special::normal;
use proptest::prelude::*;

const GRID: &str = include_str!("../reference/data/distribution_grid.csv");
const SURE: f64 = 1e-12;

struct Point {
    distribution: String,
    parameters: Vec<f64>,
    function: String,
    x: f64,
    expected: f64,
}

fn grid() -> Vec<Point> {
    csv::Reader::from_reader(GRID.as_bytes())
        .records()
        .map(|row| {
            let row = row.unwrap();
            Point {
                distribution: row[0].to_owned(),
                parameters: row[1].split(' ').map(|p| p.parse().unwrap()).collect(),
                function: row[2].to_owned(),
                x: row[3].parse().unwrap(),
                expected: row[4].parse().unwrap(),
            }
        })
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts are written as floats in the grid"
)]
fn count(x: f64) -> u64 {
    x as u64
}

fn ours(point: &Point) -> f64 {
    let p = &point.parameters;
    let x = point.x;
    match (point.distribution.as_str(), point.function.as_str()) {
        ("norm", "cdf") => normal::cdf(x),
        ("norm", "sf") => normal::sf(x),
        ("norm", "ppf") => normal::quantile(x),
        ("t", "cdf") => StudentT::new(p[0]).unwrap().cdf(x),
        ("t", "sf") => StudentT::new(p[0]).unwrap().sf(x),
        ("t", "ppf") => StudentT::new(p[0]).unwrap().quantile(x),
        ("chi2", "cdf") => ChiSquared::new(p[0]).unwrap().cdf(x),
        ("chi2", "sf") => ChiSquared::new(p[0]).unwrap().sf(x),
        ("chi2", "ppf") => ChiSquared::new(p[0]).unwrap().quantile(x),
        ("f", "cdf") => FisherF::new(p[0], p[1]).unwrap().cdf(x),
        ("f", "sf") => FisherF::new(p[0], p[1]).unwrap().sf(x),
        ("f", "ppf") => FisherF::new(p[0], p[1]).unwrap().quantile(x),
        ("beta", "cdf") => Beta::new(p[0], p[1]).unwrap().cdf(x),
        ("beta", "sf") => Beta::new(p[0], p[1]).unwrap().sf(x),
        ("beta", "ppf") => Beta::new(p[0], p[1]).unwrap().quantile(x),
        ("binom", "pmf") => Binomial::new(count(p[0]), p[1]).unwrap().pmf(count(x)),
        ("binom", "cdf") => Binomial::new(count(p[0]), p[1]).unwrap().cdf(count(x)),
        ("binom", "sf") => Binomial::new(count(p[0]), p[1]).unwrap().sf(count(x)),
        ("hyper", function) => {
            let draw = Hypergeometric::new(count(p[0]), count(p[1]), count(p[2])).unwrap();
            match function {
                "pmf" => draw.pmf(count(x)),
                "cdf" => draw.cdf(count(x)),
                _ => draw.sf(count(x)),
            }
        }
        other => panic!("the grid holds an unknown function: {other:?}"),
    }
}

#[test]
fn every_distribution_agrees_with_another_library_far_into_its_tails() {
    let mut wrong = Vec::new();
    let mut compared = 0;
    for point in grid() {
        let probability = if point.function == "ppf" {
            point.x
        } else {
            point.expected
        };
        if !(SURE..=1.0 - SURE).contains(&probability) {
            continue;
        }
        compared += 1;
        let value = ours(&point);
        if !agrees(value, point.expected) {
            wrong.push(format!(
                "{} {:?} {}({:e}): {value:e}, expected {:e}",
                point.distribution, point.parameters, point.function, point.x, point.expected
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {compared}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(
        compared > 3_500,
        "only {compared} points of the grid were compared"
    );
}

/// Within 1e-9 of the expected value; the library writes the smallest normal float for anything below it.
fn agrees(value: f64, expected: f64) -> bool {
    if expected == f64::MIN_POSITIVE {
        return (0.0..=f64::MIN_POSITIVE).contains(&value);
    }
    (value - expected).abs() <= 1e-9 * expected.abs().max(1e-12)
}

#[test]
fn no_tail_is_too_far_to_be_asked_for() {
    for point in grid() {
        let value = ours(&point);
        assert!(
            !value.is_nan(),
            "{} {:?} {}({:e}) is not a number",
            point.distribution,
            point.parameters,
            point.function,
            point.x
        );
    }
}

#[test]
fn impossible_parameters_are_refused_in_a_sentence() {
    let refusal = StudentT::new(0.0).unwrap_err().to_string();
    assert_eq!(
        refusal,
        "the t distribution has no parameter df = 0: it must be a finite number above 0"
    );
    assert!(Beta::new(f64::NAN, 1.0).is_err());
    assert!(FisherF::new(1.0, f64::INFINITY).is_err());
    assert!(Binomial::new(3, 1.5).is_err());
    assert!(Hypergeometric::new(3, 4, 1).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn a_quantile_undoes_the_cdf(df in 0.5_f64..500.0, p in 0.0001_f64..0.9999) {
        let t = StudentT::new(df).unwrap();
        prop_assert!((t.cdf(t.quantile(p)) - p).abs() < 1e-12);
        let chi = ChiSquared::new(df).unwrap();
        prop_assert!((chi.cdf(chi.quantile(p)) - p).abs() < 1e-12);
        let beta = Beta::new(df, 3.0).unwrap();
        prop_assert!((beta.cdf(beta.quantile(p)) - p).abs() < 1e-11);
    }

    #[test]
    fn the_two_tails_of_a_count_make_one(n in 1_u64..300, p in 0.01_f64..0.99, k in 0_u64..300) {
        let counts = Binomial::new(n, p).unwrap();
        prop_assert!((counts.cdf(k) + counts.sf(k) - 1.0).abs() < 1e-12);
        let sum: f64 = (0..=k).map(|at| counts.pmf(at)).sum();
        prop_assert!((sum - counts.cdf(k)).abs() < 1e-11);
    }
}
