//! The acts: what a person can do, one function an act.

mod clock;
mod error;
mod files;
mod import;
/// What a listener does.
pub mod listening;
mod log;
mod seal_round;
mod secret;
mod workspace;

pub use clock::Now;
pub use error::AppError;
pub use import::Imported;
pub use import::import;
pub use seal_round::Link;
pub use seal_round::Sealed;
pub use seal_round::seal_round;
pub use workspace::Workspace;
