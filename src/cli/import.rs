//! `import`: recordings become tokens, by a manifest or by their names.

use std::path::PathBuf;

use super::Common;
use super::progress;
use crate::app;
use crate::app::AppError;
use crate::app::Now;

/// Import recordings: everything that a manifest or a name pattern names, or nothing.
#[derive(clap::Args)]
pub(super) struct Import {
    #[command(flatten)]
    common: Common,
    /// The manifest: a CSV with one row a recorded word.
    #[arg(
        long,
        value_name = "CSV",
        requires = "audio",
        required_unless_present = "name_pattern"
    )]
    manifest: Option<PathBuf>,
    /// The folder that holds the manifest's recordings.
    #[arg(long, value_name = "DIR", requires = "manifest")]
    audio: Option<PathBuf>,
    /// What the files' names tell, instead of a manifest: '{child}_{session}_{phase}_{word}_{attempt}'.
    #[arg(
        long,
        value_name = "PATTERN",
        requires = "files",
        conflicts_with = "manifest"
    )]
    name_pattern: Option<String>,
    /// The recordings that the pattern is held against.
    #[arg(value_name = "FILE", requires = "name_pattern")]
    files: Vec<PathBuf>,
}

impl Import {
    pub(super) fn run(self) -> Result<(), AppError> {
        let workspace = self.common.open()?;
        let bar = progress::preparing();
        let told = |done, of| progress::show(&bar, done, of);
        let imported = match (&self.name_pattern, &self.manifest, &self.audio) {
            (Some(pattern), ..) => {
                app::import_by_pattern(&workspace, pattern, &self.files, Now::read(), &told)
            }
            (None, Some(manifest), Some(audio)) => {
                app::import(&workspace, manifest, audio, Now::read(), &told)
            }
            _ => Err(AppError::refused(
                "nothing names the recordings",
                "give --manifest with --audio, or --name-pattern with the files",
            )),
        };
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
