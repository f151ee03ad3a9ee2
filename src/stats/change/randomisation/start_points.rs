//! The start of treatment was drawn: for each case, over cases, or both.

use rand::Rng;
use rand::RngExt;

use super::RandomisationTest;
use super::shuffle;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;
use crate::stats::change::mean;
use crate::stats::change::permutation::DRAWS;
use crate::stats::change::permutation::MOST_LISTED;
use crate::stats::change::permutation::Tally;
use crate::stats::change::permutation::cross_sum;

/// A case whose treatment began at a start point that was drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct StartPoints {
    /// The scores in order of time.
    pub scores: Vec<f64>,
    /// The session of each score, counted from 1; one that is missing gave none.
    pub sessions: Vec<usize>,
    /// The sessions at which treatment could have begun.
    pub allowed: Vec<usize>,
    /// The session at which it began.
    pub start: usize,
}

/// What was drawn in a design with start points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// Each case's start among its own allowed ones (Marascuilo & Busk 1988).
    #[default]
    Starts,
    /// Which case gets which of the starts that were used (Wampold & Worsham 1986).
    Cases,
    /// Which case gets which set of allowed starts, and then the start in it (Koehler & Levin 1998).
    Both,
}

/// A randomisation test of start points.
///
/// # Errors
/// [`ChangeError::NotPossible`] where a start was not among the allowed ones, or leaves a phase empty;
/// [`ChangeError::TooFew`] without cases.
pub fn start_point_test(
    cases: &[StartPoints],
    order: Order,
    better: Better,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let windows = Windows::of(
        order,
        cases
            .iter()
            .map(|case| (case.allowed.as_slice(), case.start)),
    )?;
    let gain = |case: usize, start: usize| {
        let gain = cases.get(case).map_or(f64::NAN, |case| {
            step(&case.scores, before(&case.sessions, start))
        });
        better.sign() * gain
    };
    windows.test(cases.len() as f64, gain, rng)
}

/// The starts that could have been drawn, and those that were.
pub(super) struct Windows {
    order: Order,
    allowed: Vec<Vec<usize>>,
    drawn: Vec<usize>,
}

impl Windows {
    /// `cases`: the allowed starts of each, and the one that was drawn.
    pub(super) fn of<'a>(
        order: Order,
        cases: impl Iterator<Item = (&'a [usize], usize)>,
    ) -> Result<Self, ChangeError> {
        let (mut windows, mut drawn) = (Vec::new(), Vec::new());
        for (allowed, start) in cases {
            let window = if order == Order::Cases {
                vec![start]
            } else {
                allowed.to_vec()
            };
            if !window.contains(&start) {
                return Err(ChangeError::NotPossible);
            }
            windows.push(window);
            drawn.push(start);
        }
        if drawn.is_empty() {
            return Err(ChangeError::TooFew {
                found: 0,
                needed: 1,
            });
        }
        Ok(Self {
            order,
            allowed: windows,
            drawn,
        })
    }

    /// Where the starts that were drawn stand among all. `value`: what a case adds with a start; the statistic is the sum over
    /// cases, divided by `divisor`. A draw with a value that is no number does not count.
    pub(super) fn test(
        &self,
        divisor: f64,
        value: impl Fn(usize, usize) -> f64,
        rng: &mut impl Rng,
    ) -> Result<RandomisationTest, ChangeError> {
        let drawn = self.drawn.iter().enumerate();
        let sum: f64 = drawn.map(|(case, start)| value(case, *start)).sum();
        let observed = sum / divisor;
        if !observed.is_finite() {
            return Err(ChangeError::NotPossible);
        }
        let all = self.count();
        let mut sums = if all <= MOST_LISTED {
            self.listed(&value)
        } else {
            self.sampled(&value, rng)
        };
        sums.retain(|sum| sum.is_finite());
        let assignments = if all <= MOST_LISTED {
            sums.len() as f64
        } else {
            all
        };
        let tally = Tally::of(observed, sums.into_iter().map(|sum| sum / divisor));
        Ok(RandomisationTest::new(&tally, observed, assignments, false))
    }

    fn count(&self) -> f64 {
        let inside: f64 = self
            .allowed
            .iter()
            .map(|window| window.len() as f64)
            .product();
        let orders = if self.order == Order::Starts {
            1.0
        } else {
            factorial(self.allowed.len())
        };
        inside * orders
    }

    fn window(&self, place: usize) -> &[usize] {
        self.allowed.get(place).map_or(&[], Vec::as_slice)
    }

    fn listed(&self, value: &impl Fn(usize, usize) -> f64) -> Vec<f64> {
        let mut sums = Vec::new();
        for_each_order(self.allowed.len(), self.order != Order::Starts, |places| {
            let lists = places.iter().enumerate().map(|(case, place)| {
                let window = self.window(*place).iter();
                window
                    .map(|start| value(case, *start))
                    .collect::<Vec<f64>>()
            });
            sums.extend(lists.fold(vec![0.0], |sums, list| cross_sum(&sums, &list)));
        });
        sums
    }

    fn sampled(&self, value: &impl Fn(usize, usize) -> f64, rng: &mut impl Rng) -> Vec<f64> {
        let mut places: Vec<usize> = (0..self.allowed.len()).collect();
        let mut sums = Vec::new();
        for _ in 0..DRAWS {
            if self.order != Order::Starts {
                shuffle(&mut places, rng);
            }
            let mut sum = 0.0;
            for (case, place) in places.iter().enumerate() {
                let window = self.window(*place);
                let start = window.get(rng.random_range(0..window.len().max(1)));
                sum += start.map_or(f64::NAN, |start| value(case, *start));
            }
            sums.push(sum);
        }
        sums
    }
}

/// How many sessions come before a start. A start that was drawn for one case may be tried at another, which misses other
/// sessions; so it is a session everywhere, and no place in a list.
pub(super) fn before(sessions: &[usize], start: usize) -> usize {
    sessions.iter().filter(|session| **session < start).count()
}

/// Mean of all scores but so many at the beginning, less mean of these; not a number where a side is empty.
fn step(scores: &[f64], before: usize) -> f64 {
    match scores.split_at_checked(before) {
        Some((before, after)) => mean(after) - mean(before),
        None => f64::NAN,
    }
}

fn factorial(n: usize) -> f64 {
    (2..=n).map(|i| i as f64).product()
}

/// Calls `take` with every order of 0..n, or with the first one only.
fn for_each_order(n: usize, all: bool, mut take: impl FnMut(&[usize])) {
    let mut places: Vec<usize> = (0..n).collect();
    loop {
        take(&places);
        if !all || !next_order(&mut places) {
            return;
        }
    }
}

/// The next order in the dictionary, or false after the last.
fn next_order(places: &mut [usize]) -> bool {
    let Some(pivot) = places
        .windows(2)
        .rposition(|pair| pair.first() < pair.last())
    else {
        return false;
    };
    let at_pivot = places.get(pivot).copied();
    if let Some(larger) = places.iter().rposition(|place| Some(*place) > at_pivot) {
        places.swap(pivot, larger);
    }
    if let Some(tail) = places.get_mut(pivot + 1..) {
        tail.reverse();
    }
    true
}
