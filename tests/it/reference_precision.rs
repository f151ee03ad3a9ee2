//! Variance components and forecasts against Brennan's published studies, and against the spread of simulated designs.
//!
//! `tests/reference/expected/14_generalizability.json`: Brennan (2001), Generalizability Theory, synthetic data sets 1 and 3, and
//! Shrout & Fleiss (1979) Table 2; recomputed there from first principles and with R lme4 (REML).

use fairhearing::stats::precision::Components;
use fairhearing::stats::precision::Facet;
use fairhearing::stats::precision::Observation;
use fairhearing::stats::precision::Probe;
use fairhearing::stats::precision::components;
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;
use rand_distr::StandardNormal;
use serde_json::Value;

const EXPECTED: &str = include_str!("../reference/expected/14_generalizability.json");

fn expected(id: &str) -> Value {
    let all: Value = serde_json::from_str(EXPECTED).unwrap();
    all.as_array()
        .unwrap()
        .iter()
        .find(|check| check["id"] == id)
        .unwrap()["expected"]
        .clone()
}

#[track_caller]
fn near(name: &str, ours: f64, theirs: &Value) {
    let theirs = theirs.as_f64().unwrap();
    assert!(
        (ours - theirs).abs() < 1e-6,
        "{name}: {ours}, expected {theirs}"
    );
}

#[test]
fn persons_by_items_by_occasions_give_brennans_components() {
    // Persons are children, items words, occasions listeners; each child came once.
    let text = include_str!("../reference/data/gt_brennan3.csv");
    let observations: Vec<Observation> = csv::Reader::from_reader(text.as_bytes())
        .records()
        .map(|row| {
            let row = row.unwrap();
            let number = |place: usize| {
                row[place]
                    .trim_start_matches(|c: char| !c.is_ascii_digit())
                    .parse::<u32>()
                    .unwrap()
            };
            let (person, item, occasion) = (number(0), number(1), number(2));
            Observation {
                child: person,
                session: person,
                token: person * 100 + item,
                word: Some(item),
                listener: occasion,
                value: row[3].parse().unwrap(),
            }
        })
        .collect();
    assert_eq!(observations.len(), 80);
    let found = components(&observations);
    let expected = expected("gt_brennan3");
    for (facet, name) in [
        (Facet::Child, "p"),
        (Facet::Word, "i"),
        (Facet::Listener, "o"),
        (Facet::Token, "pi"),
        (Facet::ListenerByChild, "po"),
        (Facet::ListenerByWord, "io"),
        (Facet::Residual, "pio"),
    ] {
        near(name, found.variance(facet), &expected["vc"][name]);
    }
    for study in expected["d_studies"].as_array().unwrap() {
        let then = found.forecast(Probe {
            words: study["n_i"].as_f64().unwrap(),
            listeners: study["n_o"].as_f64().unwrap(),
            sessions: 1.0,
        });
        near("absolute error", then.se * then.se, &study["abs_error"]);
        near("phi", then.dependability.unwrap(), &study["phi"]);
    }
}

#[test]
fn persons_by_raters_give_the_published_components() {
    for (id, text) in [
        (
            "gt_brennan1",
            include_str!("../reference/data/icc_binary_brennan1.csv"),
        ),
        (
            "gt_sf1979",
            include_str!("../reference/data/icc_sf1979.csv"),
        ),
    ] {
        let mut names: Vec<String> = Vec::new();
        let mut number = |name: &str| {
            let found = names.iter().position(|other| other == name);
            let place = found.unwrap_or_else(|| {
                names.push(name.to_owned());
                names.len() - 1
            });
            u32::try_from(place).unwrap()
        };
        let observations: Vec<Observation> = csv::Reader::from_reader(text.as_bytes())
            .records()
            .map(|row| {
                let row = row.unwrap();
                let (person, rater) = (
                    number(&format!("p{}", &row[0])),
                    number(&format!("r{}", &row[1])),
                );
                Observation {
                    child: person,
                    session: person,
                    token: person,
                    word: None,
                    listener: rater,
                    value: row[2].parse().unwrap(),
                }
            })
            .collect();
        let found = components(&observations);
        let expected = expected(id);
        // One token a person: what is of the child and what is of the token cannot be told apart.
        near(id, found.variance(Facet::Token), &expected["vc"]["p"]);
        near(id, found.variance(Facet::Listener), &expected["vc"]["i"]);
        near(id, found.variance(Facet::Residual), &expected["vc"]["pi"]);
        assert!(
            found
                .get(Facet::Token)
                .unwrap()
                .with
                .contains(&Facet::Child)
        );
    }
}

/// A world of 0/1 judgements in which everything varies, on the logit scale.
struct World {
    children: Vec<f64>,
    rng: ChaCha12Rng,
}

/// The effects that one session's judgements share, and a fresh draw of a design in it.
struct Drawn {
    observations: Vec<Observation>,
}

impl World {
    const WORD: f64 = 0.6;
    const TOKEN: f64 = 1.0;
    const LISTENER: f64 = 0.7;
    const LISTENER_SESSION: f64 = 0.3;
    const SESSION: f64 = 0.4;

    fn new(seed: u64) -> Self {
        Self {
            children: (0..12)
                .map(|child| -1.5 + 0.25 * f64::from(child))
                .collect(),
            rng: ChaCha12Rng::seed_from_u64(seed),
        }
    }

    fn normal(&mut self, sd: f64) -> f64 {
        sd * self.rng.sample::<f64, _>(StandardNormal)
    }

    /// Every listener judges every word in every session; `keep` is the share of judgements that are there.
    fn draw(&mut self, sessions: u32, words: u32, listeners: u32, keep: f64) -> Drawn {
        let word_effects: Vec<f64> = (0..words).map(|_| self.normal(Self::WORD)).collect();
        let leniency: Vec<f64> = (0..listeners)
            .map(|_| self.normal(Self::LISTENER))
            .collect();
        let mut observations = Vec::new();
        for (child, level) in (0_u32..).zip(self.children.clone()) {
            for session in 0..sessions {
                let place = child * sessions + session;
                let day = level + self.normal(Self::SESSION);
                let own: Vec<f64> = (0..listeners)
                    .map(|_| self.normal(Self::LISTENER_SESSION))
                    .collect();
                for word in 0..words {
                    let token = day + word_effects[word as usize] + self.normal(Self::TOKEN);
                    for listener in 0..listeners {
                        let logit = token + leniency[listener as usize] + own[listener as usize];
                        if self.rng.random::<f64>() >= keep {
                            continue;
                        }
                        let correct = self.rng.random::<f64>() < 1.0 / (1.0 + (-logit).exp());
                        observations.push(Observation {
                            child,
                            session: place,
                            token: place * words + word,
                            word: Some(word),
                            listener,
                            value: f64::from(u8::from(correct)),
                        });
                    }
                }
            }
        }
        Drawn { observations }
    }
}

/// The standard error of session scores as it really is: two independent panels and probes hear the very same days.
fn seen_error(seed: u64, words: u32, listeners: u32, replicates: u64) -> f64 {
    let mut squares = 0.0;
    let mut count = 0.0;
    for replicate in 0..replicates {
        let mut world = World::new(seed + replicate);
        let days: Vec<f64> = world
            .children
            .clone()
            .iter()
            .map(|level| level + world.normal(World::SESSION))
            .collect();
        let scores = |world: &mut World| -> Vec<f64> {
            let word_effects: Vec<f64> = (0..words).map(|_| world.normal(World::WORD)).collect();
            let leniency: Vec<f64> = (0..listeners)
                .map(|_| world.normal(World::LISTENER))
                .collect();
            days.iter()
                .map(|day| {
                    let own: Vec<f64> = leniency
                        .iter()
                        .map(|l| l + world.normal(World::LISTENER_SESSION))
                        .collect();
                    let mut correct = 0.0;
                    for word in &word_effects {
                        let token = day + word + world.normal(World::TOKEN);
                        for listener in &own {
                            let p = 1.0 / (1.0 + (-(token + listener)).exp());
                            correct += f64::from(u8::from(world.rng.random::<f64>() < p));
                        }
                    }
                    correct / f64::from(words * listeners)
                })
                .collect()
        };
        let (one, other) = (scores(&mut world), scores(&mut world));
        for (a, b) in one.iter().zip(&other) {
            // Two independent draws differ by twice the error variance.
            squares += (a - b).powi(2) / 2.0;
            count += 1.0;
        }
    }
    (squares / count).sqrt()
}

#[test]
fn a_forecast_from_a_pilot_meets_the_spread_of_three_other_designs() {
    // Ten pilots with a quarter of the judgements missing; their mean forecast against what 150 real repetitions show.
    let pilots: Vec<Components> = (0..10)
        .map(|pilot| components(&World::new(900 + pilot).draw(4, 12, 8, 0.75).observations))
        .collect();
    for (words, listeners) in [(30_u32, 5_u32), (10, 20), (40, 15)] {
        let probe = Probe {
            words: f64::from(words),
            listeners: f64::from(listeners),
            sessions: 1.0,
        };
        let forecast = pilots
            .iter()
            .map(|pilot| pilot.forecast(probe).se.powi(2))
            .sum::<f64>()
            / 10.0;
        let seen = seen_error(7_000, words, listeners, 150);
        let ratio = forecast.sqrt() / seen;
        // Ten pilots of 8 listeners know the listeners' variance to about 17%, hence the error to about 8%.
        assert!(
            (0.85..1.18).contains(&ratio),
            "{words} words × {listeners}: forecast {} seen {seen}",
            forecast.sqrt()
        );
    }
}

#[test]
fn components_below_zero_are_kept_and_not_used() {
    // Checkerboard: listeners contradict each other more than chance would, so the token's variance comes out below 0.
    let observations: Vec<Observation> = (0..6_u32)
        .flat_map(|word| {
            (0..2_u32).map(move |listener| Observation {
                child: 0,
                session: 0,
                token: word,
                word: Some(word),
                listener,
                value: f64::from((word + listener) % 2),
            })
        })
        .collect();
    let found = components(&observations);
    assert!(found.variance(Facet::Token) < 0.0);
    let then = found.forecast(Probe {
        words: 10.0,
        listeners: 10.0,
        sessions: 1.0,
    });
    assert!(then.se > 0.0 && then.dependability.is_none());
}
