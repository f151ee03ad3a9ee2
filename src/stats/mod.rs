//! Statistics: numbers in, numbers out. Nothing of ours is imported; there is no file, clock or generator of its own.

pub mod interval;
/// A share of successes and how sure it is.
pub mod proportion;
mod root;
pub mod special;
