//! A simulated round whose truth is known: children × sessions × words × tokens × listeners on the logit scale.
//!
//! logit P(correct) = child's level + day + word + token + listener + listener × session. The truth of a session is the
//! probability that a new listener calls a new token of that day correct; of a child, the same over days.

use fairhearing::stats::interval::Judgement;
use fairhearing::stats::interval::Place;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::StandardNormal;

/// How much everything varies, as standard deviations on the logit scale.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spread {
    pub(crate) token: f64,
    pub(crate) word: f64,
    pub(crate) listener: f64,
    pub(crate) listener_session: f64,
    pub(crate) session: f64,
}

impl Spread {
    /// A panel and words as published studies of naive listeners show them (our reading of them).
    pub(crate) const USUAL: Self = Self {
        token: 1.2,
        word: 0.5,
        listener: 0.7,
        listener_session: 0.3,
        session: 0.3,
    };

    /// All but the day.
    fn inside_a_day(self) -> f64 {
        let squares =
            [self.token, self.word, self.listener, self.listener_session].map(|sd| sd * sd);
        squares.iter().sum::<f64>().sqrt()
    }
}

/// Who hears what.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Panel {
    /// Judgements of every token.
    pub(crate) judgements: usize,
    /// Listeners among whom they are drawn, token by token; as many as judgements: complete.
    pub(crate) listeners: usize,
}

/// A round to be simulated.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub(crate) spread: Spread,
    pub(crate) panel: Panel,
    pub(crate) words: usize,
    /// For each child the accuracy of its earlier and of its later sessions.
    pub(crate) children: Vec<[f64; 2]>,
    /// Sessions in each of the two phases.
    pub(crate) sessions: usize,
}

/// A simulated round. Sessions stand child by child, the earlier phase first.
pub(crate) struct Simulated {
    pub(crate) judgements: Vec<Judgement>,
    pub(crate) places: Vec<Place>,
    /// The truth of each session.
    pub(crate) truth: Vec<f64>,
}

/// The levels that give the accuracies of a plan, found once for all its replicates.
pub(crate) struct Levels(Vec<[f64; 2]>);

impl Plan {
    pub(crate) fn levels(&self) -> Levels {
        let all = (self.spread.inside_a_day().powi(2) + self.spread.session.powi(2)).sqrt();
        let level = |accuracy: f64| {
            let (mut low, mut high) = (-12.0, 12.0);
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if mean_over_normal(middle, all) < accuracy {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            f64::midpoint(low, high)
        };
        Levels(self.children.iter().map(|pair| pair.map(level)).collect())
    }

    pub(crate) fn simulate(&self, levels: &Levels, rng: &mut ChaCha12Rng) -> Simulated {
        let words: Vec<f64> = (0..self.words)
            .map(|_| draw(self.spread.word, rng))
            .collect();
        let leniency: Vec<f64> = (0..self.panel.listeners)
            .map(|_| draw(self.spread.listener, rng))
            .collect();
        let inside = self.spread.inside_a_day();
        let mut round = Simulated {
            judgements: Vec::new(),
            places: Vec::new(),
            truth: Vec::new(),
        };
        let mut order: Vec<usize> = (0..self.panel.listeners).collect();
        for (child, levels) in (0_u32..).zip(&levels.0) {
            for (phase, level) in (0_u32..).zip(levels) {
                for _ in 0..self.sessions {
                    let session = u32::try_from(round.places.len()).unwrap();
                    round.places.push(Place { child, phase });
                    let day = level + draw(self.spread.session, rng);
                    round.truth.push(mean_over_normal(day, inside));
                    let heard: Vec<f64> = leniency
                        .iter()
                        .map(|l| l + draw(self.spread.listener_session, rng))
                        .collect();
                    for (word, effect) in (0_u32..).zip(&words) {
                        let quality = day + effect + draw(self.spread.token, rng);
                        for place in 0..self.panel.judgements {
                            let other = rng.random_range(place..order.len());
                            order.swap(place, other);
                            let listener = order[place];
                            let p = expit(quality + heard[listener]);
                            round.judgements.push(Judgement {
                                session,
                                token: session * 1_000 + word,
                                word: Some(word),
                                listener: u32::try_from(listener).unwrap(),
                                correct: rng.random::<f64>() < p,
                                weight: 1.0,
                            });
                        }
                    }
                }
            }
        }
        round
    }
}

fn draw(sd: f64, rng: &mut ChaCha12Rng) -> f64 {
    sd * rng.sample::<f64, _>(StandardNormal)
}

/// E expit(level + sd·Z), Z standard normal, by the trapezoid rule (which is exact enough for smooth functions on a line).
pub(crate) fn mean_over_normal(level: f64, sd: f64) -> f64 {
    let steps = 96;
    let (mut sum, mut weights) = (0.0, 0.0);
    for step in 0..=steps {
        let z = -8.0 + 16.0 * f64::from(step) / f64::from(steps);
        let weight = (-z * z / 2.0).exp();
        sum += weight * expit(level + sd * z);
        weights += weight;
    }
    sum / weights
}

fn expit(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}
