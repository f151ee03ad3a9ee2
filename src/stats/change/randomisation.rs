//! Randomisation tests for single cases: only for the assignment that was really drawn, among those that were possible.
//!
//! Three designs: a start point drawn for each case (also staggered over cases), phase changes drawn within a case
//! (ABAB), and conditions that alternate from session to session. Up to 10⁶ assignments are listed, else
//! a hundred thousand drawn. The statistic is the mean over cases of (mean under treatment − mean without it).
//! Bulté & Onghena (2008), Behav. Res. Methods 40, 467–478; Levin, Ferron & Gafurov (2018) compare the reference sets.

use rand::Rng;
use rand::RngExt;

use super::Better;
use super::ChangeError;
use super::permutation::DRAWS;
use super::permutation::MOST_LISTED;
use super::permutation::Tally;
use super::permutation::binomial;
use super::permutation::cross_sum;

/// Where the observed statistic stands among those of all assignments that were possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RandomisationTest {
    /// The statistic of the assignment that was drawn, in the score's unit; above 0 is for the better.
    pub observed: f64,
    /// One-sided: the share of assignments with a statistic at least as good.
    pub p: f64,
    /// The share of assignments with a statistic at least as far from 0.
    pub p_two_sided: f64,
    /// The smallest one-sided p that this design could have given.
    pub smallest_p: f64,
    /// How many assignments were possible.
    pub assignments: f64,
    /// Whether all were listed; else (b + 1)/(B + 1) is given.
    pub exact: bool,
}

impl RandomisationTest {
    fn new(tally: &Tally, observed: f64, assignments: f64) -> Self {
        let test = tally.test(observed, assignments, 1.0);
        Self {
            observed,
            p: test.p_greater,
            p_two_sided: test.p_two_sided,
            smallest_p: test.smallest_p,
            assignments,
            exact: test.exact,
        }
    }
}

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
    Ok(RandomisationTest::new(&tally, observed, assignments))
}

/// One case whose phase changes were drawn: A, B, A, B, … in turn.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseChanges {
    /// The scores in order of time.
    pub scores: Vec<f64>,
    /// The session, counted from 1, at which each phase after the first began.
    pub changes: Vec<usize>,
    /// The fewest sessions that a phase could have.
    pub min_per_phase: usize,
}

/// A randomisation test of drawn phase changes; statistic: mean of the B phase means less mean of the A phase means.
///
/// # Errors
/// [`ChangeError::NotPossible`] where a phase is shorter than was possible; [`ChangeError::TooFew`] without a change.
pub fn phase_change_test(
    case: &PhaseChanges,
    better: Better,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let phases = case.changes.len() + 1;
    let least = case.min_per_phase.max(1);
    let sessions = case.scores.len();
    if phases < 2 {
        return Err(ChangeError::TooFew {
            found: phases,
            needed: 2,
        });
    }
    let ends: Vec<usize> = case
        .changes
        .iter()
        .map(|start| start.saturating_sub(1))
        .collect();
    if !long_enough(&ends, sessions, least) {
        return Err(ChangeError::NotPossible);
    }
    let statistic = |ends: &[usize]| better.sign() * alternating_means(&case.scores, ends);
    let observed = statistic(&ends);
    let spare = sessions - phases * least;
    let assignments = binomial(spare + phases - 1, phases - 1);
    let mut statistics = Vec::new();
    if assignments <= MOST_LISTED {
        let mut ends = Vec::new();
        each_split(sessions, phases, least, &mut ends, &mut |ends| {
            statistics.push(statistic(ends));
        });
    } else {
        // A split is a choice of phases − 1 bars among spare + phases − 1 places.
        let mut places: Vec<usize> = (0..spare + phases - 1).collect();
        for _ in 0..DRAWS {
            shuffle(&mut places, rng);
            let mut bars: Vec<usize> = places.iter().take(phases - 1).copied().collect();
            bars.sort_unstable();
            let ends: Vec<usize> = bars
                .iter()
                .enumerate()
                .map(|(index, bar)| bar - index + (index + 1) * least)
                .collect();
            statistics.push(statistic(&ends));
        }
    }
    let tally = Tally::of(observed, statistics.into_iter());
    Ok(RandomisationTest::new(&tally, observed, assignments))
}

/// One case whose sessions were given one of two conditions each, at random.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternation {
    /// The scores in order of time.
    pub scores: Vec<f64>,
    /// Whether the session had the second condition.
    pub second: Vec<bool>,
    /// The longest run of one condition that was possible; nothing: any.
    pub longest_run: Option<usize>,
    /// Whether sessions were paired and the order drawn inside each pair.
    pub in_pairs: bool,
}

/// A randomisation test of alternating conditions; statistic: mean of the second less mean of the first.
///
/// Without pairs, every order with the same number of sessions under each condition was possible, up to the longest run.
/// Cases count together where several are given: the assignments of all are combined.
///
/// # Errors
/// [`ChangeError::NotPossible`] where the drawn order breaks the rule; [`ChangeError::TooFew`] without both conditions.
pub fn alternation_test(
    case: &Alternation,
    better: Better,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let seconds = case.second.iter().filter(|second| **second).count();
    let sessions = case.scores.len().min(case.second.len());
    if seconds == 0 || seconds == sessions {
        return Err(ChangeError::TooFew {
            found: 0,
            needed: 1,
        });
    }
    if !case.allows(&case.second) {
        return Err(ChangeError::NotPossible);
    }
    let statistic = |second: &[bool]| better.sign() * condition_gain(&case.scores, second);
    let observed = statistic(&case.second);
    let candidates = if case.in_pairs {
        2.0_f64.powf(sessions as f64 / 2.0)
    } else {
        binomial(sessions, seconds)
    };
    let mut statistics = Vec::new();
    if candidates <= MOST_LISTED {
        let mut order = Vec::with_capacity(sessions);
        case.each_order(seconds, sessions, &mut order, &mut |order| {
            statistics.push(statistic(order));
        });
        let assignments = statistics.len() as f64;
        let tally = Tally::of(observed, statistics.into_iter());
        return Ok(RandomisationTest::new(&tally, observed, assignments));
    }
    let mut order = case.second.clone();
    let mut tries = 0;
    while statistics.len() < DRAWS as usize && tries < 100 * DRAWS {
        tries += 1;
        if case.in_pairs {
            order.chunks_mut(2).for_each(|pair| shuffle(pair, rng));
        } else {
            shuffle(&mut order, rng);
        }
        if case.allows(&order) {
            statistics.push(statistic(&order));
        }
    }
    let tally = Tally::of(observed, statistics.into_iter());
    Ok(RandomisationTest::new(&tally, observed, candidates))
}

impl Alternation {
    fn allows(&self, order: &[bool]) -> bool {
        let short = self.longest_run.is_none_or(|longest| {
            order
                .chunk_by(|a, b| a == b)
                .all(|run| run.len() <= longest)
        });
        let paired = order
            .chunks_exact(2)
            .all(|pair| pair.first() != pair.last());
        short && (!self.in_pairs || (paired && order.len().is_multiple_of(2)))
    }

    fn each_order(
        &self,
        seconds: usize,
        left: usize,
        order: &mut Vec<bool>,
        take: &mut impl FnMut(&[bool]),
    ) {
        if left == 0 {
            if self.allows(order) {
                take(order);
            }
            return;
        }
        for second in [false, true] {
            let rest = seconds - usize::from(second && seconds > 0);
            let possible = if second { seconds > 0 } else { seconds < left };
            if possible {
                order.push(second);
                self.each_order(rest, left - 1, order, take);
                order.pop();
            }
        }
    }
}

/// Mean from session `start` (counted from 1) on, less mean before it; not a number where a side is empty.
fn step(scores: &[f64], start: usize) -> f64 {
    match scores.split_at_checked(start.saturating_sub(1)) {
        Some((before, after)) => super::mean(after) - super::mean(before),
        None => f64::NAN,
    }
}

fn condition_gain(scores: &[f64], second: &[bool]) -> f64 {
    let (mut sums, mut counts) = ([0.0; 2], [0.0; 2]);
    for (score, second) in scores.iter().zip(second) {
        let [first_sum, second_sum] = &mut sums;
        let [first_count, second_count] = &mut counts;
        let (sum, count) = if *second {
            (second_sum, second_count)
        } else {
            (first_sum, first_count)
        };
        *sum += score;
        *count += 1.0;
    }
    sums[1] / counts[1] - sums[0] / counts[0]
}

/// Mean of the means of every second phase less mean of the means of the others.
fn alternating_means(scores: &[f64], ends: &[usize]) -> f64 {
    let (mut sums, mut counts) = ([0.0; 2], [0.0; 2]);
    let mut begin = 0;
    for (phase, end) in ends.iter().copied().chain([scores.len()]).enumerate() {
        let mean = super::mean(scores.get(begin..end).unwrap_or_default());
        if phase % 2 == 0 {
            sums[0] += mean;
            counts[0] += 1.0;
        } else {
            sums[1] += mean;
            counts[1] += 1.0;
        }
        begin = end;
    }
    sums[1] / counts[1] - sums[0] / counts[0]
}

fn long_enough(ends: &[usize], sessions: usize, least: usize) -> bool {
    let mut begin = 0;
    ends.iter().copied().chain([sessions]).all(|end| {
        let enough = end >= begin + least;
        begin = end;
        enough
    })
}

/// Calls `take` with the ends of all phases but the last, for every split into phases of at least `least` sessions.
fn each_split(
    sessions: usize,
    phases: usize,
    least: usize,
    ends: &mut Vec<usize>,
    take: &mut impl FnMut(&[usize]),
) {
    if ends.len() + 1 == phases {
        take(ends);
        return;
    }
    let begin = ends.last().copied().unwrap_or(0);
    let left_after = (phases - ends.len() - 1) * least;
    for end in begin + least..=sessions - left_after {
        ends.push(end);
        each_split(sessions, phases, least, ends, take);
        ends.pop();
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

/// Fisher and Yates' shuffle.
fn shuffle<T>(items: &mut [T], rng: &mut impl Rng) {
    for place in (1..items.len()).rev() {
        let other = rng.random_range(0..=place);
        items.swap(place, other);
    }
}
