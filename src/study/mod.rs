//! The vocabulary of the study. A value is checked once, when it is made; nothing here does I/O.

mod problem;

pub use problem::Problem;
pub use problem::Problems;
