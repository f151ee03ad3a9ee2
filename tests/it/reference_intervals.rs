//! Intervals of sessions and changes against an independent computation on four data sets.
//!
//! `tests/reference/expected/17_intervals.json`: constructed data; values by a separate program (numpy, scipy) that is the
//! same method as an array implementation whose coverage was simulated. Tolerance 1e-6: both solve by bisection.

use std::collections::BTreeMap;

use fairhearing::stats::interval::ChangeInterval;
use fairhearing::stats::interval::IntervalError;
use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Place;
use fairhearing::stats::interval::Reading;
use fairhearing::stats::interval::Round;
use serde_json::Value;

const TOLERANCE: f64 = 1e-6;

#[test]
fn a_complete_round_gives_the_reference_intervals() {
    compare(
        "interval_complete",
        include_str!("../reference/data/interval_complete_ratings.csv"),
        include_str!("../reference/data/interval_complete_tokens.csv"),
    );
}

#[test]
fn an_uneven_round_gives_the_reference_intervals() {
    compare(
        "interval_uneven",
        include_str!("../reference/data/interval_uneven_ratings.csv"),
        include_str!("../reference/data/interval_uneven_tokens.csv"),
    );
}

#[test]
fn two_days_a_child_give_the_reference_intervals() {
    compare(
        "interval_two_days",
        include_str!("../reference/data/interval_two_days_ratings.csv"),
        include_str!("../reference/data/interval_two_days_tokens.csv"),
    );
}

#[test]
fn sessions_at_the_ceiling_give_the_reference_intervals() {
    compare(
        "interval_ceiling",
        include_str!("../reference/data/interval_ceiling_ratings.csv"),
        include_str!("../reference/data/interval_ceiling_tokens.csv"),
    );
}

#[track_caller]
fn compare(id: &str, ratings: &str, tokens: &str) {
    let expected = expected(id);
    let data = Data::read(ratings, tokens);
    let round = Round::new(&data.judgements, &data.places).unwrap();
    let components = round.components();
    for (name, ours) in [
        ("r_token", components.r_token),
        ("r_listener", components.r_listener),
        ("r_listener_shared", components.r_listener_shared),
        ("r_word", components.r_word),
        ("r_session", components.r_session),
    ] {
        near(&format!("{id} {name}"), ours, &expected["components"][name]);
    }
    for session in expected["sessions"].as_array().unwrap() {
        let name = format!("{id} {} {}", session["child"], session["session"]);
        let index = data.session(&session["child"], &session["session"]);
        let ours = round.session(index, 0.95).unwrap();
        near(&name, ours.estimate, &session["proportion_correct"]);
        near(&name, ours.low, &session["ci"][0]);
        near(&name, ours.high, &session["ci"][1]);
        near(&name, ours.effective_n, &session["effective_n"]);
    }
    for change in expected["changes"].as_array().unwrap() {
        let child = &change["child"];
        let from = data.sessions_in(child, "baseline");
        let to = data.sessions_in(child, "treatment");
        let days = round.change(&from, &to, Reading::TheseDays, 0.95).unwrap();
        let name = format!("{id} {child} these days");
        near(&name, days.difference, &change["difference"]);
        near_interval(
            &name,
            &days,
            &change["ci_these_days"],
            &change["mdc95_these_days"],
        );
        let own = round.change(&from, &to, Reading::Child, 0.95);
        if change["ci_child"].is_null() {
            assert_eq!(own, Err(IntervalError::TooFewSessions));
        } else {
            let name = format!("{id} {child} child");
            near_interval(
                &name,
                &own.unwrap(),
                &change["ci_child"],
                &change["mdc95_child"],
            );
        }
    }
}

#[track_caller]
fn near_interval(name: &str, ours: &ChangeInterval, ci: &Value, mdc95: &Value) {
    near(name, ours.low, &ci[0]);
    near(name, ours.high, &ci[1]);
    near(name, ours.mdc95, mdc95);
}

#[track_caller]
fn near(name: &str, ours: f64, expected: &Value) {
    let expected = expected.as_f64().unwrap();
    let scale = expected.abs().max(1.0);
    assert!(
        (ours - expected).abs() <= TOLERANCE * scale,
        "{name}: {ours}, expected {expected}"
    );
}

fn expected(id: &str) -> Value {
    let all: Value =
        serde_json::from_str(include_str!("../reference/expected/17_intervals.json")).unwrap();
    let check = all
        .as_array()
        .unwrap()
        .iter()
        .find(|check| check["id"] == id);
    check.unwrap()["expected"].clone()
}

struct Data {
    judgements: Vec<Judgement>,
    places: Vec<Place>,
    labels: Vec<(String, String, String)>,
}

impl Data {
    fn read(ratings: &str, tokens: &str) -> Self {
        let mut sessions: BTreeMap<(String, String), u32> = BTreeMap::new();
        let mut data = Self {
            judgements: Vec::new(),
            places: Vec::new(),
            labels: Vec::new(),
        };
        let (mut children, mut phases, mut words, mut listeners) = (
            Names::default(),
            Names::default(),
            Names::default(),
            Names::default(),
        );
        let mut known = BTreeMap::new();
        for row in csv::Reader::from_reader(tokens.as_bytes()).deserialize() {
            let row: BTreeMap<String, String> = row.unwrap();
            let key = (row["child"].clone(), row["session"].clone());
            let next = u32::try_from(sessions.len()).unwrap();
            let session = *sessions.entry(key).or_insert_with(|| {
                data.places.push(Place {
                    child: children.number(&row["child"]),
                    phase: phases.number(&row["phase"]),
                });
                data.labels.push((
                    row["child"].clone(),
                    row["session"].clone(),
                    row["phase"].clone(),
                ));
                next
            });
            let token = u32::try_from(known.len()).unwrap();
            known.insert(
                row["token"].clone(),
                (session, token, words.number(&row["word"])),
            );
        }
        for row in csv::Reader::from_reader(ratings.as_bytes()).deserialize() {
            let row: BTreeMap<String, String> = row.unwrap();
            let (session, token, word) = known[&row["token"]];
            data.judgements.push(Judgement {
                session,
                token,
                word: Some(word),
                listener: listeners.number(&row["listener"]),
                correct: row["judgement"] == "correct" || row["judgement"] == "1",
                weight: 1.0,
            });
        }
        data
    }

    fn session(&self, child: &Value, session: &Value) -> usize {
        self.labels
            .iter()
            .position(|(c, s, _)| child == c.as_str() && session == s.as_str())
            .unwrap()
    }

    fn sessions_in(&self, child: &Value, phase: &str) -> Vec<usize> {
        (0..self.labels.len())
            .filter(|index| {
                child == self.labels[*index].0.as_str() && self.labels[*index].2 == phase
            })
            .collect()
    }
}

#[derive(Default)]
struct Names(BTreeMap<String, u32>);

impl Names {
    fn number(&mut self, name: &str) -> u32 {
        let next = u32::try_from(self.0.len()).unwrap();
        *self.0.entry(name.to_owned()).or_insert(next)
    }
}
