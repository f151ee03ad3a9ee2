//! Findings as plain text, for a terminal.

mod agreement;
mod columns;
mod consensus;
mod effects;
mod listeners;
mod outcome;
mod planned;
mod precision;
mod round;
mod series;

pub use agreement::agreement;
pub use columns::columns;
pub use columns::counted;
pub use consensus::consensus;
pub use listeners::listeners;
pub use outcome::outcome;
pub use planned::planned;
pub use precision::precision;
pub use round::known_answers;
pub use round::readme;
pub use round::round;
pub use round::shared_readme;
pub use series::series;
