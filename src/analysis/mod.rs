//! Analysis: judgements to tables to findings.

mod agreement;
mod labelled;
mod reasons;
mod scale;

pub use agreement::*;
pub use labelled::Labelled;
pub use reasons::Reasons;
pub use reasons::finite;
pub use scale::Scale;
pub use scale::ScaleKind;
