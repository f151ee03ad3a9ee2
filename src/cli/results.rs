//! `export` and `report`: what an unlocked round shows.

use std::path::Path;
use std::path::PathBuf;

use serde_json::json;

use super::Common;
use crate::app;
use crate::app::AppError;
use crate::app::Findings;
use crate::app::Now;
use crate::app::Workspace;
use crate::folder;
use crate::study::RoundName;

#[derive(clap::Args)]
struct Asked {
    #[command(flatten)]
    common: Common,
    /// The round; it must be unlocked.
    #[arg(long, value_name = "NAME")]
    round: RoundName,
    /// The folder to write; empty, or not there yet.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Fit to be given away: other codes for children and words, days from the first recording, ages
    /// in half-years, no free text.
    #[arg(long)]
    share: bool,
}

/// Notes in the study that a copy left it.
type Note = fn(&Workspace, &Path, Now) -> Result<(), AppError>;

impl Asked {
    fn findings(&self) -> Result<Findings, AppError> {
        let workspace = self.common.open()?;
        let unlocked = app::unlocked(&workspace, &self.round)?;
        if self.share {
            app::shared_findings(&workspace, &unlocked)
        } else {
            app::findings(&workspace, &unlocked)
        }
    }

    fn write(&self, files: &[(String, Vec<u8>)], note: Note) -> Result<(), AppError> {
        app::write_folder(&self.out, files)?;
        note(&self.common.open()?, &self.out, Now::read())?;
        let names: Vec<_> = files.iter().map(|(name, _)| name).collect();
        let said = json!({"round": self.round, "out": self.out, "files": names});
        self.common.say(&said, |_| {
            format!("Wrote {} files to {}.\n", names.len(), self.out.display())
        })
    }
}

/// Write a round's tables: tidy CSVs with a data dictionary, a workbook, JSON, plan, seal and hashes.
#[derive(clap::Args)]
pub(super) struct Export {
    #[command(flatten)]
    asked: Asked,
}

impl Export {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = folder::export(&self.asked.findings()?)?;
        self.asked.write(&files, app::note_export)
    }
}

/// Write a round's report: one page that stands alone, the same tables, and JSON.
#[derive(clap::Args)]
pub(super) struct Report {
    #[command(flatten)]
    asked: Asked,
}

impl Report {
    pub(super) fn run(self) -> Result<(), AppError> {
        let files = folder::report(&self.asked.findings()?)?;
        self.asked.write(&files, app::note_report)
    }
}
