//! The permission that results ask for.

use super::RoundName;
use super::RoundState;

/// Proof that a round's results may be seen. Only a round that was unlocked yields one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unlocked {
    round: RoundName,
}

impl Unlocked {
    /// The proof, if the round's state gives it.
    pub fn of(round: RoundName, state: RoundState) -> Option<Self> {
        (state == RoundState::Unlocked).then_some(Self { round })
    }

    /// The round that was unlocked.
    pub const fn round(&self) -> &RoundName {
        &self.round
    }
}
