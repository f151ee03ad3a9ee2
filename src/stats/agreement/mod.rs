//! How far raters agree: one estimator a file, each named by its author or model.
//!
//! Every estimator that forgets who judged takes a [`Weighted`](super::tally::Weighted) tally of answer patterns, so that the
//! same function serves the estimate, a resample of items, and the panel without one rater.

mod apart;
mod brennan_prediger;
mod chance;
mod cochran;
mod cohen;
mod conger;
mod fleiss;
mod gwet;
mod icc;
mod interval;
mod krippendorff;
mod mcnemar;
mod pair_table;
mod percent;
mod specific;
mod strength;

pub use apart::FEWEST_APART;
pub use apart::items_apart;
pub use brennan_prediger::brennan_prediger;
pub use chance::ChanceCorrected;
pub use cochran::CochranQ;
pub use cochran::cochran_q;
pub use cohen::CohenKappa;
pub use cohen::PairWeights;
pub use cohen::cohen_kappa;
pub use conger::conger_kappa;
pub use fleiss::FleissNull;
pub use fleiss::fleiss_kappa;
pub use fleiss::fleiss_kappa_of_category;
pub use fleiss::fleiss_null_error;
pub use gwet::gwet_ac1;
pub use icc::IccForm;
pub use icc::IccTable;
pub use icc::Intraclass;
pub use interval::both_variance;
pub use interval::rater_variance;
pub use interval::resampled_alphas;
pub use krippendorff::AlphaScale;
pub use krippendorff::Workspace;
pub use krippendorff::krippendorff_alpha;
pub use mcnemar::McNemar;
pub use mcnemar::mcnemar;
pub use pair_table::PairTable;
pub use pair_table::pair_tables;
pub use percent::PercentAgreement;
pub use percent::percent_agreement;
pub use specific::specific_agreement;
pub use strength::Strength;
pub use strength::StrengthScale;
pub use strength::strength;
