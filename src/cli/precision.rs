//! `precision`: where the variance comes from, and how many listeners and words are enough.

use std::path::PathBuf;

use super::outcome::share;
use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::PrecisionFiles;
use crate::app::PrecisionOptions;
use crate::report;
use crate::study::Confidence;

/// Compute variance components from judgements, and forecast the error of any panel and probe.
#[derive(clap::Args)]
pub(super) struct Precision {
    /// CSV with token,listener,judgement (or item,rater,value); - is standard input.
    ratings: PathBuf,
    /// CSV with token,child,session,phase and, better, word.
    #[arg(long, value_name = "TOKENS.csv")]
    tokens: PathBuf,
    /// CSV with listener,kept,weight: only listeners who were kept.
    #[arg(long, value_name = "PANEL.csv")]
    panel: Option<PathBuf>,
    /// Which panels and probes bring a session within ± this much, as a share of 1.
    #[arg(long, value_name = "X", value_parser = share)]
    half_width: Option<f64>,
    /// Sessions in each phase of the change that mdc95 speaks of.
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=1000))]
    sessions: u32,
    /// The level of the half width.
    #[arg(long, default_value = "0.95")]
    confidence: Confidence,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Precision {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = PrecisionFiles {
            ratings: self.ratings,
            tokens: self.tokens,
            panel: self.panel,
        };
        let options = PrecisionOptions {
            half_width: self.half_width,
            sessions: self.sessions,
            confidence: self.confidence.level(),
        };
        let found = app::precision(&files, &options)?;
        output::print(&found, self.json, report::text::precision)
    }
}
