//! Findings as plain text, for a terminal.

mod agreement;
mod columns;
mod consensus;
mod listeners;

pub use agreement::agreement;
pub use consensus::consensus;
pub use listeners::listeners;
