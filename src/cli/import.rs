//! `import`: a manifest and a folder of recordings become tokens.

use std::path::PathBuf;

use super::Common;
use super::progress;
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
        let bar = progress::preparing();
        let imported = app::import(
            &workspace,
            &self.manifest,
            &self.audio,
            Now::read(),
            &|done, of| {
                progress::show(&bar, done, of);
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
