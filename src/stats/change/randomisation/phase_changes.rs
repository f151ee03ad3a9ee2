//! The phase changes of one case were drawn.

use rand::Rng;

use super::RandomisationTest;
use super::shuffle;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;
use crate::stats::change::mean;
use crate::stats::change::permutation::DRAWS;
use crate::stats::change::permutation::MOST_LISTED;
use crate::stats::change::permutation::Tally;
use crate::stats::change::permutation::binomial;

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
    Ok(RandomisationTest::new(&tally, observed, assignments, false))
}

/// Mean of the means of every second phase less mean of the means of the others.
fn alternating_means(scores: &[f64], ends: &[usize]) -> f64 {
    let (mut sums, mut counts) = ([0.0; 2], [0.0; 2]);
    let mut begin = 0;
    for (phase, end) in ends.iter().copied().chain([scores.len()]).enumerate() {
        let mean = mean(scores.get(begin..end).unwrap_or_default());
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
