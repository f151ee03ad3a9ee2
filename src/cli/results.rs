//! `export` and `report`: what an unlocked round shows.

use std::path::PathBuf;

use serde_json::json;

use super::Common;
use super::folder;
use crate::app;
use crate::app::AppError;
use crate::app::Findings;
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
}

impl Asked {
    fn findings(&self) -> Result<Findings, AppError> {
        let workspace = self.common.open()?;
        let unlocked = app::unlocked(&workspace, &self.round)?;
        app::findings(&workspace, &unlocked)
    }

    fn write(&self, files: &[(String, Vec<u8>)]) -> Result<(), AppError> {
        app::write_folder(&self.out, files)?;
        let names: Vec<_> = files.iter().map(|(name, _)| name).collect();
        let said = json!({"round": self.round, "out": self.out, "files": names});
        self.common.say(&said, |_| {
            format!("Wrote {} files to {}.\n", names.len(), self.out.display())
        })
    }
}

/// Write a round's tables: tidy CSVs with a data dictionary.
#[derive(clap::Args)]
pub(super) struct Export {
    #[command(flatten)]
    asked: Asked,
}

impl Export {
    pub(super) fn run(self) -> Result<(), AppError> {
        self.asked.write(&folder::export(&self.asked.findings()?))
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
        self.asked.write(&folder::report(&self.asked.findings()?)?)
    }
}
