//! Analysis: judgements to tables to findings.

mod agreement;
mod consensus;
mod effects;
mod labelled;
mod listeners;
mod outcome;
mod positive;
mod reasons;
mod scale;

pub use agreement::*;
pub use consensus::*;
pub use effects::Effects;
pub use effects::EstimateFinding;
pub use effects::NapFinding;
pub use effects::RatioFinding;
pub use effects::SmdFinding;
pub use labelled::Labelled;
pub use listeners::*;
pub use outcome::ChangeFinding;
pub use outcome::CohortFinding;
pub use outcome::CohortTestFinding;
pub use outcome::Outcome;
pub use outcome::OutcomeOptions;
pub use outcome::PanelFinding;
pub use outcome::Panels;
pub use outcome::SessionFinding;
pub use outcome::Words;
pub use outcome::outcome;
pub use positive::Positive;
pub use reasons::Reasons;
pub use reasons::finite;
pub use scale::Scale;
pub use scale::ScaleKind;

pub use crate::stats::listener::Rule;
pub use crate::stats::listener::Rules;
