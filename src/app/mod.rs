//! The acts: what a person can do, one function an act.

mod error;

pub use error::AppError;
