//! Findings as plain text, for a terminal.

mod agreement;
mod columns;

pub use agreement::agreement;
