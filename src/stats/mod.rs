//! Statistics: numbers in, numbers out. Nothing of ours is imported; there is no file, clock or generator of its own.

// How far raters agree.
pub mod agreement;

/// How far a case changed between phases, and tests by the assignment that was drawn.
pub mod change;
// What a panel says of an item.
pub mod consensus;
pub mod interval;
// One listener, and who is left out.
pub mod listener;
// A share of successes and how sure it is.

/// A share of successes and how sure it is.
pub mod proportion;

mod root;

/// Distributions whose tails hold.
pub mod special;

// Items × raters with gaps.
pub mod table;

// How often each pattern of answers occurs.
pub mod tally;

/// Improved, declined, no relevant change, or cannot tell.
pub mod verdict;

mod undefined;

pub use undefined::Undefined;
