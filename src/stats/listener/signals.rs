//! What is known of a listener without looking at any outcome.

use super::super::Undefined;
use super::repeats::Repeats;

/// The covert signals of one listener: all that a screening rule may see.
///
/// There is no token, child, session, phase or cohort here, so no rule can depend on one.
#[derive(Debug, Clone, PartialEq)]
pub struct Signals {
    /// Main judgements.
    pub judgements: u32,
    /// Of them positive.
    pub positive: u32,
    /// Check tokens heard.
    pub checks: u32,
    /// Of them judged as known.
    pub checks_right: u32,
    /// Response times of main judgements in milliseconds, sorted; empty where none is known.
    pub response_times_ms: Vec<f32>,
    /// Self-agreement.
    pub repeats: Result<Repeats, Undefined>,
}

/// The middle of sorted values; of an even number the mean of the two in the middle.
pub fn median(sorted: &[f32]) -> Option<f64> {
    let middle = sorted.len() / 2;
    let above = f64::from(*sorted.get(middle)?);
    if sorted.len() % 2 == 1 {
        return Some(above);
    }
    let below = f64::from(*sorted.get(middle.checked_sub(1)?)?);
    Some(f64::midpoint(below, above))
}

/// The longest run of equal answers, in the order in which they were given.
pub fn longest_run(answers: &[bool]) -> u32 {
    let longest = answers.chunk_by(|a, b| a == b).map(<[bool]>::len).max();
    u32::try_from(longest.unwrap_or(0)).unwrap_or(u32::MAX)
}
