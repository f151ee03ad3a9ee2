//! Statistics: numbers in, numbers out. Nothing of ours is imported; there is no file, clock or generator of its own.

// How far raters agree.
pub mod agreement;

// How far a case changed between phases, and tests by the assignment that was drawn.
pub mod change;

// What a panel says of a token.
pub mod consensus;

// One way of judging against a reference.
pub mod diagnostic;

// Intervals for the accuracy that a panel has heard, and for its change.
pub mod interval;

// One listener: checks, repeats, drift, agreement with the rest.
pub mod listener;

// Variance components, and the forecast from them.
pub mod precision;

// A share of successes and how sure it is.
pub mod proportion;

mod root;

// Distributions whose tails hold.
pub mod special;

// Items × raters with gaps.
pub mod table;

// How often each pattern of answers occurs.
pub mod tally;

// Improved, declined, no relevant change, or cannot tell.
pub mod verdict;

mod undefined;

pub use undefined::Undefined;
