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
    /// The sessions, counted from 1, at which treatment could have begun.
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
    if cases.is_empty() {
        return Err(ChangeError::TooFew {
            found: 0,
            needed: 1,
        });
    }
    let windows: Vec<Vec<usize>> = cases
        .iter()
        .map(|case| {
            if order == Order::Cases {
                vec![case.start]
            } else {
                case.allowed.clone()
            }
        })
        .collect();
    let drawn = cases.iter().zip(&windows);
    if drawn
        .into_iter()
        .any(|(case, window)| !window.contains(&case.start))
    {
        return Err(ChangeError::NotPossible);
    }
    let gain = |case: &StartPoints, start: usize| better.sign() * step(&case.scores, start);
    let observed = average(cases.iter().map(|case| gain(case, case.start)), cases.len());
    if !observed.is_finite() {
        return Err(ChangeError::NotPossible);
    }
    let inside: f64 = windows.iter().map(|window| window.len() as f64).product();
    let orders = if order == Order::Starts {
        1.0
    } else {
        factorial(cases.len())
    };
    let mut statistics = Vec::new();
    if inside * orders <= MOST_LISTED {
        for_each_order(cases.len(), order != Order::Starts, |places| {
            let lists = cases.iter().zip(places).map(|(case, place)| {
                let window = windows.get(*place).map_or(&[][..], Vec::as_slice);
                window
                    .iter()
                    .map(|start| gain(case, *start))
                    .collect::<Vec<f64>>()
            });
            statistics.extend(lists.fold(vec![0.0], |sums, list| cross_sum(&sums, &list)));
        });
    } else {
        let mut places: Vec<usize> = (0..cases.len()).collect();
        for _ in 0..DRAWS {
            if order != Order::Starts {
                shuffle(&mut places, rng);
            }
            let drawn = cases.iter().zip(&places).map(|(case, place)| {
                let window = windows.get(*place).map_or(&[][..], Vec::as_slice);
                let start = window.get(rng.random_range(0..window.len().max(1)));
                start.map_or(f64::NAN, |start| gain(case, *start))
            });
            statistics.push(drawn.sum());
        }
    }
    statistics.retain(|sum| sum.is_finite());
    let assignments = if inside * orders <= MOST_LISTED {
        statistics.len() as f64
    } else {
        inside * orders
    };
    let count = cases.len() as f64;
    let tally = Tally::of(observed, statistics.into_iter().map(|sum| sum / count));
    Ok(RandomisationTest::new(&tally, observed, assignments, false))
}

/// Mean from session `start` (counted from 1) on, less mean before it; not a number where a side is empty.
fn step(scores: &[f64], start: usize) -> f64 {
    match scores.split_at_checked(start.saturating_sub(1)) {
        Some((before, after)) => mean(after) - mean(before),
        None => f64::NAN,
    }
}

fn average(values: impl Iterator<Item = f64>, count: usize) -> f64 {
    values.sum::<f64>() / count as f64
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
