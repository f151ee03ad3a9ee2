//! `listeners`: can each listener be trusted, and whom do the rules keep?

use std::path::PathBuf;

use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::ListenerFiles;
use crate::report;
use crate::study::Confidence;

/// Compute what is known of each listener, and apply screening rules.
#[derive(clap::Args)]
pub(super) struct Listeners {
    /// CSV with item,rater,value and presentation (main, check, repeat); - is standard input.
    ratings: PathBuf,
    /// CSV with item,answer for check words.
    #[arg(long, value_name = "KEY.csv")]
    key: Option<PathBuf>,
    /// Screening rules in the order in which they apply, such as
    /// [[rules]] rule = "min-check-accuracy" share = 0.8 (a line each).
    #[arg(long, value_name = "RULES.toml")]
    rules: Option<PathBuf>,
    /// The value that is the signal [default: correct, else 1].
    #[arg(long, value_name = "LABEL")]
    positive: Option<String>,
    /// The level of every interval.
    #[arg(long, default_value = "0.95")]
    confidence: Confidence,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Listeners {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = ListenerFiles {
            ratings: self.ratings,
            key: self.key,
            rules: self.rules,
        };
        let found = app::listeners(&files, self.positive.as_deref(), self.confidence.level())?;
        output::print(&found, self.json, report::text::listeners)
    }
}
