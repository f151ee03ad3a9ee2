//! Analysis: judgements to tables to findings.

mod agreement;
mod consensus;
mod effects;
mod labelled;
mod listeners;
mod outcome;
mod positive;
mod precision;
mod reasons;
mod round;
mod scale;
mod series;

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
pub use precision::ComponentFinding;
pub use precision::ForecastFinding;
pub use precision::Precision;
pub use precision::PrecisionOptions;
pub use precision::ReachedFinding;
pub use precision::precision;
pub use reasons::Reasons;
pub use reasons::finite;
pub use round::RoundFindings;
pub use round::RoundTables;
pub use round::round;
pub use round::rules_of;
pub use scale::Scale;
pub use scale::ScaleKind;

pub use crate::stats::listener::Rule;
pub use crate::stats::listener::Rules;
pub use series::RandomisationFinding;
pub use series::SeriesChange;
pub use series::SeriesFinding;
pub use series::SeriesOptions;
pub use series::series;

pub use crate::stats::change::Better;
