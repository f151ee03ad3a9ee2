//! Change between two phases of one case, and tests by the assignment that was really drawn: one measure a file.
//!
//! Every measure takes the scores of two phases in order of time. `Better` says which direction is hoped for, and a
//! positive result always means a change for the better. All treat the points of a phase as independent; the
//! lag-1 autocorrelation says how far that is from the truth.

mod autocorrelation;
mod hedges;
mod log_odds;
mod log_ratio;
mod nap;
mod permutation;
mod pnd;
mod randomisation;
mod reliable;
mod smd;
mod sorted;
mod tau_u;
mod two_groups;

pub use autocorrelation::lag1_autocorrelation;
pub use hedges::Hedges;
pub use hedges::hedges_g;
pub use log_odds::log_odds_ratio;
pub use log_ratio::LogRatio;
pub use log_ratio::log_response_ratio;
pub use nap::Nap;
pub use nap::nap;
pub use nap::nap_value;
pub use permutation::PermutationTest;
pub use pnd::pnd;
pub use randomisation::Alternation;
pub use randomisation::Draws;
pub use randomisation::DrawsError;
pub use randomisation::MarkedStart;
pub use randomisation::Order;
pub use randomisation::Part;
pub use randomisation::PhaseChanges;
pub use randomisation::RandomisationTest;
pub use randomisation::StartPoints;
pub use randomisation::alternation_test;
pub use randomisation::drawn_test;
pub use randomisation::masked_test;
pub use randomisation::phase_change_test;
pub use randomisation::start_point_test;
pub use reliable::Reliability;
pub use smd::Smd;
pub use smd::smd_baseline;
pub use smd::smd_pooled;
pub use tau_u::tau_u;
pub use two_groups::TwoGroups;
pub use two_groups::two_group_test;

/// Which direction is hoped for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Better {
    /// A rise is an improvement.
    #[default]
    Higher,
    /// A fall is an improvement.
    Lower,
}

impl Better {
    /// 1 where a rise is hoped for, −1 where a fall is.
    pub fn sign(self) -> f64 {
        match self {
            Self::Higher => 1.0,
            Self::Lower => -1.0,
        }
    }
}

/// Why a measure of change cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ChangeError {
    /// A phase holds too few points.
    #[error("a phase has {found} points where {needed} are needed")]
    TooFew {
        /// What it has.
        found: usize,
        /// What it needs.
        needed: usize,
    },
    /// There is nothing to scale by.
    #[error("the scores of the phase do not vary, so there is no standard deviation to scale by")]
    Constant,
    /// A ratio needs a mean above zero, or a floor.
    #[error(
        "the mean of a phase is 0 or below, and without the number of items there is no floor for it"
    )]
    NoRatio,
    /// Odds exist for shares only.
    #[error("a score lies outside 0 to 1, so it has no odds")]
    NotAShare,
    /// Autocorrelation of so few points says nothing.
    #[error("fewer than {needed} points: the lag-1 autocorrelation cannot be judged")]
    TooShort {
        /// The fewest that tell something.
        needed: usize,
    },
    /// The assignment that is said to have been drawn was not possible.
    #[error("the assignment that was drawn is none of those that were possible")]
    NotPossible,
    /// A reliability of 1 leaves no error to compare with.
    #[error("a reliability outside 0 to 1, or 1 itself, leaves no error to compare a change with")]
    Reliability,
}

/// Fails where a phase has fewer points than a measure needs.
fn at_least(needed: usize, phases: [&[f64]; 2]) -> Result<(), ChangeError> {
    match phases.iter().map(|phase| phase.len()).min() {
        Some(found) if found < needed => Err(ChangeError::TooFew { found, needed }),
        _ => Ok(()),
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The sample variance, over n − 1.
fn variance(values: &[f64]) -> f64 {
    let centre = mean(values);
    let squares: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
    squares / (values.len() as f64 - 1.0)
}
