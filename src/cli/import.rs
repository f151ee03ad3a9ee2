//! `import`: a manifest and a folder of recordings become tokens.

use std::path::PathBuf;

use indicatif::ProgressBar;
use indicatif::ProgressStyle;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Now;

/// Import recordings: everything in the manifest, or nothing.
#[derive(clap::Args)]
pub(super) struct Import {
    #[command(flatten)]
    common: Common,
    /// The manifest: a CSV with one row a recorded word.
    #[arg(long, value_name = "CSV")]
    manifest: PathBuf,
    /// The folder that holds the recordings.
    #[arg(long, value_name = "DIR")]
    audio: PathBuf,
}

impl Import {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let bar = preparing();
        let imported = app::import(
            &workspace,
            &self.manifest,
            &self.audio,
            Now::read(),
            &|done, of| {
                bar.set_length(of as u64);
                bar.set_position(done as u64);
            },
        );
        bar.finish_and_clear();
        let imported = imported?;
        self.common.say(&imported, |imported| {
            format!(
                "{} new tokens, {} there already, {} rows without a recording.\n",
                imported.added, imported.known, imported.missing
            )
        })
    }
}

/// The bar that shows how many words are prepared, on standard error.
pub(super) fn preparing() -> ProgressBar {
    let style = ProgressStyle::with_template("preparing {bar:40} {pos} of {len}, {eta} to go");
    let bar = ProgressBar::new(0);
    match style {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
