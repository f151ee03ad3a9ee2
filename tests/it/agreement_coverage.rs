//! Do the intervals for raters like these hold the agreement of the raters that the panel is a sample of?

use fairhearing::stats::Undefined;
use fairhearing::stats::agreement::ChanceCorrected;
use fairhearing::stats::agreement::FEWEST_APART;
use fairhearing::stats::agreement::both_variance;
use fairhearing::stats::agreement::fleiss_kappa;
use fairhearing::stats::agreement::gwet_ac1;
use fairhearing::stats::agreement::items_apart;
use fairhearing::stats::agreement::rater_variance;
use fairhearing::stats::special::StudentT;
use fairhearing::stats::table::Table;
use fairhearing::stats::tally::Tally;
use fairhearing::stats::tally::Weighted;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

const REPLICATES: u32 = 400;

/// Listeners differ in how often they are right and in how they lean; every one judges every token.
fn panel(items: u32, raters: u32, chance: &mut ChaCha12Rng) -> Table {
    let says_correct: Vec<[f64; 2]> = (0..raters)
        .map(|_| {
            [
                chance.random_range(0.05..0.45),
                chance.random_range(0.6..0.98),
            ]
        })
        .collect();
    let mut judgements = Vec::new();
    for item in 0..items {
        let truth = usize::from(chance.random_bool(0.6));
        for rater in 0..raters {
            let yes = chance.random_bool(says_correct[rater as usize][truth]);
            judgements.push((item, rater, u32::from(yes)));
        }
    }
    Table::new(items as usize, raters as usize, 2, &judgements).unwrap()
}

type Coefficient = fn(Weighted<'_>) -> Result<ChanceCorrected, Undefined>;

/// The shares of panels whose interval holds `truth`: for these raters only, and for raters like them.
fn coverage(coefficient: Coefficient, items: u32, raters: u32, truth: f64) -> [f64; 2] {
    let mut held = [0.0; 2];
    for replicate in 0..REPLICATES {
        let mut chance = ChaCha12Rng::seed_from_u64(5);
        chance.set_stream(u64::from(replicate));
        let table = panel(items, raters, &mut chance);
        let tally = Tally::of(&table);
        let found = coefficient(tally.weighted()).unwrap();
        let over_items = found.variance.unwrap();
        let over_raters = rater_variance(&table, &tally, |weighted, _| {
            coefficient(weighted).map(|found| found.estimate)
        });
        let both = both_variance(
            over_items,
            found.items,
            over_raters.unwrap(),
            f64::from(raters),
        );
        for (held, (variance, df)) in held.iter_mut().zip([(over_items, found.items - 1.0), both]) {
            let half = StudentT::new(df).unwrap().quantile(0.975) * variance.sqrt();
            *held += f64::from(u8::from((found.estimate - truth).abs() <= half));
        }
    }
    held.map(|count| count / f64::from(REPLICATES))
}

#[test]
fn intervals_for_raters_like_these_hold_what_those_for_these_raters_miss() {
    let coefficients: [Coefficient; 2] = [fleiss_kappa, gwet_ac1];
    for coefficient in coefficients {
        // What a panel of very many listeners on very many tokens would show.
        let mut chance = ChaCha12Rng::seed_from_u64(1);
        let whole = Tally::of(&panel(3000, 600, &mut chance));
        let truth = coefficient(whole.weighted()).unwrap().estimate;
        for (items, raters) in [(100, 6), (100, 12), (300, 9)] {
            let [these, both] = coverage(coefficient, items, raters, truth);
            // 95% with a Monte-Carlo error of 1.1 points: nothing below 92%
            assert!(
                both >= 0.92,
                "{items} × {raters}: {both} (these raters only: {these})"
            );
            assert!(these < both, "{items} × {raters}: {these} {both}");
        }
    }
}

/// Nearly all tokens sound right to nearly everyone; each of the others, `doubtful` of one, divides the panel.
fn ceiling(items: u32, doubtful: f64, chance: &mut ChaCha12Rng) -> Tally {
    let mut judgements = Vec::new();
    for item in 0..items {
        let distorted = if chance.random_bool(doubtful) {
            chance.random_range(0.1..0.9)
        } else {
            0.01
        };
        for rater in 0..9 {
            judgements.push((item, rater, u32::from(chance.random_bool(distorted))));
        }
    }
    Tally::of(&Table::new(items as usize, 9, 2, &judgements).unwrap())
}

#[test]
fn where_an_interval_is_too_narrow_too_few_items_stand_apart() {
    for (items, doubtful, narrow) in [(60, 0.02, true), (200, 0.02, true), (200, 0.16, false)] {
        let mut chance = ChaCha12Rng::seed_from_u64(1);
        let truth = fleiss_kappa(ceiling(100_000, doubtful, &mut chance).weighted());
        let truth = truth.unwrap().estimate;
        let (mut held, mut said, mut panels) = (0.0, 0.0, 0.0);
        for replicate in 0..REPLICATES {
            let mut chance = ChaCha12Rng::seed_from_u64(7);
            chance.set_stream(u64::from(replicate));
            let tally = ceiling(items, doubtful, &mut chance);
            let Ok(found) = fleiss_kappa(tally.weighted()) else {
                continue;
            };
            let half = StudentT::new(found.items - 1.0).unwrap().quantile(0.975)
                * found.variance.unwrap().sqrt();
            held += f64::from(u8::from((found.estimate - truth).abs() <= half));
            said += f64::from(u8::from(items_apart(tally.weighted()) < FEWEST_APART));
            panels += 1.0;
        }
        let (held, said) = (held / panels, said / panels);
        // 93% where enough stand apart, with a Monte-Carlo error of 1.3 points; 80% and far less where few do.
        if narrow {
            assert!(
                held < 0.86 && said > 0.9,
                "{items} {doubtful}: {held} {said}"
            );
        } else {
            assert!(
                held > 0.89 && said < 0.01,
                "{items} {doubtful}: {held} {said}"
            );
        }
    }
}
