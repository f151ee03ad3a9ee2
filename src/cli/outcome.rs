//! `outcome`: each child's sessions and change.

use std::path::PathBuf;

use super::output;
use crate::app;
use crate::app::AppError;
use crate::app::AssignmentSource;
use crate::app::OutcomeFiles;
use crate::app::OutcomeOptions;
use crate::report;
use crate::study::Confidence;
use crate::study::Share;
use crate::study::plan::WordSet;
use crate::study::record::Look;

/// Compute each child's sessions, change, minimal detectable change and verdict from judgements.
#[derive(clap::Args)]
pub(super) struct Outcome {
    /// CSV with token,listener,judgement (or item,rater,value); - is standard input.
    ratings: PathBuf,
    /// CSV with token,child,session,phase; optional cohort,condition,date,word,treated,use.
    #[arg(long, value_name = "TOKENS.csv")]
    tokens: PathBuf,
    /// The earlier phase.
    #[arg(long, value_name = "LABEL", default_value = "baseline")]
    baseline: String,
    /// The later phase.
    #[arg(long, value_name = "LABEL", default_value = "treatment")]
    treatment: String,
    /// Of the later phase only its last K sessions.
    #[arg(long, value_name = "K", value_parser = clap::value_parser!(u16).range(1..))]
    last: Option<u16>,
    /// The smallest change that matters, as a share of 1.
    #[arg(long, value_name = "X", default_value = "0.15", value_parser = share)]
    smallest_change: f64,
    /// CSV with listener,kept,weight: the outcome of the kept, and of all and the weighted beside it.
    #[arg(long, value_name = "PANEL.csv")]
    panel: Option<PathBuf>,
    /// What was drawn: `random` for children to cohorts, or a JSON file as `assign` writes it; without it nothing is tested.
    #[arg(long, value_name = "random|FILE.json", value_parser = assignment)]
    assignment: Option<AssignmentSource>,
    /// The words that comparisons of cohorts and tests rest on.
    #[arg(long, value_name = "all|treated|untreated", default_value = "all")]
    words: WordSet,
    /// Which look at the study's results this is, counted from 1.
    #[arg(long, value_name = "K", value_parser = clap::value_parser!(u32).range(1..))]
    look: Option<u32>,
    /// How many looks were planned, the last included.
    #[arg(long, value_name = "N", requires = "look", value_parser = clap::value_parser!(u32).range(1..))]
    looks: Option<u32>,
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

impl Outcome {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = OutcomeFiles {
            ratings: self.ratings,
            tokens: self.tokens,
            panel: self.panel,
            assignment: self.assignment,
        };
        let options = OutcomeOptions {
            baseline: self.baseline,
            treatment: self.treatment,
            last: self.last.map(usize::from),
            smallest_change: self.smallest_change,
            confidence: self.confidence.level(),
            assignment: None,
            words: self.words,
            look: self.look.map(|taken| Look {
                taken,
                planned: self.looks,
            }),
            bootstrap: self.bootstrap,
            seed: self.seed,
        };
        let found = app::outcome(&files, options)?;
        output::print(&found, self.json, report::text::outcome)
    }
}

/// A share of 1.
pub(super) fn share(raw: &str) -> Result<f64, String> {
    let number: f64 = raw
        .parse()
        .map_err(|_| format!("`{raw}` is no number; write 0.15, say"))?;
    Share::new(number)
        .map(Share::get)
        .map_err(|refusal| refusal.to_string())
}

#[expect(clippy::unnecessary_wraps, reason = "clap asks a parser for a Result")]
fn assignment(raw: &str) -> Result<AssignmentSource, String> {
    Ok(match raw {
        "random" => AssignmentSource::Random,
        path => AssignmentSource::File(PathBuf::from(path)),
    })
}
