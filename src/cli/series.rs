//! `series`: change in any single-case outcome.

use std::path::PathBuf;

use clap::ValueEnum;

use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::Hoped;
use crate::app::SeriesFiles;
use crate::app::SeriesOptions;
use crate::report;
use crate::study::Confidence;

/// Compute change in any single-case outcome, and test the assignment that was really drawn.
#[derive(clap::Args)]
pub(super) struct Series {
    /// CSV with case,session,phase,value, optional condition; - is standard input.
    values: PathBuf,
    /// The earlier phase.
    #[arg(long, value_name = "LABEL", default_value = "baseline")]
    baseline: String,
    /// The later phase.
    #[arg(long, value_name = "LABEL", default_value = "treatment")]
    treatment: String,
    /// Which direction is hoped for.
    #[arg(long, value_enum, default_value_t = BetterArgument::Higher)]
    better: BetterArgument,
    /// Items behind each value where it is a share: gives ratios a floor where a phase is all 0.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    items: Option<u32>,
    /// JSON with the assignment that was drawn: start points, phase changes, or alternating conditions.
    #[arg(long, value_name = "FILE.json")]
    assignment: Option<PathBuf>,
    /// The level of every interval.
    #[arg(long, default_value = "0.95")]
    confidence: Confidence,
    /// Resamples for the intervals that are there for comparison; 0 for none.
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u32).range(..=1_000_000))]
    bootstrap: u32,
    /// The seed of all that is drawn.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum BetterArgument {
    /// A rise is an improvement.
    Higher,
    /// A fall is an improvement.
    Lower,
}

impl Series {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = SeriesFiles {
            series: self.values,
            assignment: self.assignment,
        };
        let hoped = match self.better {
            BetterArgument::Higher => Hoped::Higher,
            BetterArgument::Lower => Hoped::Lower,
        };
        let options = SeriesOptions {
            baseline: self.baseline,
            treatment: self.treatment,
            items: self.items.map(f64::from),
            confidence: self.confidence.level(),
            bootstrap: self.bootstrap,
            seed: self.seed,
            ..SeriesOptions::default()
        };
        let found = app::series(&files, hoped, options)?;
        output::print(&found, self.json, report::text::series)
    }
}
