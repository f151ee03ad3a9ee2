//! Findings as plain text, for a terminal.

mod agreement;
mod columns;
mod consensus;
mod effects;
mod listeners;
mod outcome;
mod precision;
mod round;
mod series;

pub use agreement::agreement;
pub use consensus::consensus;
pub use listeners::listeners;
pub use outcome::outcome;
pub use precision::precision;
pub use round::readme;
pub use round::round;
pub use series::series;
