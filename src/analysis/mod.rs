//! Analysis: judgements to tables to findings.

mod agreement;
mod consensus;
mod labelled;
mod listeners;
mod positive;
mod reasons;
mod scale;

pub use agreement::*;
pub use consensus::*;
pub use labelled::Labelled;
pub use listeners::*;
pub use positive::Positive;
pub use reasons::Reasons;
pub use reasons::finite;
pub use scale::Scale;
pub use scale::ScaleKind;

pub use crate::stats::listener::Rule;
pub use crate::stats::listener::Rules;
