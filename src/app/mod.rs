//! The acts: what a person can do, one function an act.

mod clock;
mod error;
mod files;
mod secret;
mod workspace;

pub use clock::Now;
pub use error::AppError;
pub use workspace::Workspace;
