//! `consensus`: what a panel says of each item.

use std::path::PathBuf;

use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::ConsensusOptions;
use crate::report;
use crate::study::Confidence;

/// Compute what a panel says of each item: share, majority and latent class.
#[derive(clap::Args)]
pub(super) struct Consensus {
    /// CSV with item,rater,value (or token,listener,judgement); - is standard input.
    ratings: PathBuf,
    /// The value that shares count [default: correct, else 1].
    #[arg(long, value_name = "LABEL")]
    positive: Option<String>,
    /// Pseudo-judgements in each cell of a rater's error rates; 0 is maximum likelihood.
    #[arg(long, value_name = "N", default_value_t = 0.1, value_parser = prior)]
    prior: f64,
    /// CSV with listener,kept,weight: only listeners who were kept.
    #[arg(long, value_name = "PANEL.csv")]
    panel: Option<PathBuf>,
    /// The level of every interval.
    #[arg(long, default_value = "0.95")]
    confidence: Confidence,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Consensus {
    pub(super) fn run(self) -> Result<(), AppError> {
        let options = ConsensusOptions {
            positive: self.positive,
            confidence: self.confidence.level(),
            prior: self.prior,
        };
        let found = app::consensus(&self.ratings, self.panel.as_deref(), &options)?;
        output::print(&found, self.json, report::text::consensus)
    }
}

fn prior(raw: &str) -> Result<f64, String> {
    let number = raw
        .parse::<f64>()
        .ok()
        .filter(|n| (0.0..=1000.0).contains(n));
    number.ok_or_else(|| "write a number from 0 to 1000, such as 0.1".to_owned())
}
