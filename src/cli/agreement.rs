//! `agreement`: how far raters agree.

use std::path::PathBuf;

use clap::ValueEnum;

use super::output;
use crate::app;
use crate::app::AgreementFiles;
use crate::app::AgreementOptions;
use crate::app::AppError;
use crate::app::ScaleKind;
use crate::report;
use crate::study::Confidence;

/// Compute how far raters agree, with intervals for these raters and for raters like them.
#[derive(clap::Args)]
pub(super) struct Agreement {
    /// CSV with item,rater,value (or token,listener,judgement); - is standard input.
    ratings: PathBuf,
    /// What may be done with the values.
    #[arg(long, value_enum, default_value_t = ScaleArgument::Nominal)]
    scale: ScaleArgument,
    /// The scale's categories in their order [default: those seen].
    #[arg(long, value_name = "A,B,…", value_delimiter = ',')]
    categories: Option<Vec<String>>,
    /// CSV with token,child,session,phase: adds agreement by phase and by child.
    #[arg(long, value_name = "TOKENS.csv")]
    tokens: Option<PathBuf>,
    /// CSV with listener,kept,weight: only listeners who were kept.
    #[arg(long, value_name = "PANEL.csv")]
    panel: Option<PathBuf>,
    /// The level of every interval.
    #[arg(long, default_value = "0.95")]
    confidence: Confidence,
    /// Resamples of items for the interval of alpha.
    #[arg(long, value_name = "N", default_value_t = 2000, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    bootstrap: u32,
    /// The seed of these resamples.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum ScaleArgument {
    /// Values are equal or not.
    Nominal,
    /// Values have an order.
    Ordinal,
    /// Values are numbers.
    Interval,
}

impl Agreement {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = AgreementFiles {
            ratings: self.ratings,
            tokens: self.tokens,
            panel: self.panel,
        };
        let options = AgreementOptions {
            scale: match self.scale {
                ScaleArgument::Nominal => ScaleKind::Nominal,
                ScaleArgument::Ordinal => ScaleKind::Ordinal,
                ScaleArgument::Interval => ScaleKind::Interval,
            },
            categories: self.categories,
            confidence: self.confidence.level(),
            replicates: self.bootstrap,
            seed: self.seed,
        };
        let found = app::agreement(&files, &options)?;
        output::print(&found, self.json, report::text::agreement)
    }
}
