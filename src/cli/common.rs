//! What every command on a workspace takes.

use std::path::PathBuf;

use super::output;
use crate::app::AppError;
use crate::app::Workspace;

/// The study's folder, and how to print.
#[derive(clap::Args)]
pub(super) struct Common {
    /// The study's folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    workspace: PathBuf,
    /// Print one JSON object.
    #[arg(long)]
    json: bool,
}

impl Common {
    /// Opens the study.
    pub(super) fn open(&self) -> Result<Workspace, AppError> {
        Workspace::open(&self.workspace)
    }

    /// Prints what was done: as one JSON object, or as a text to be read.
    pub(super) fn say<T: serde::Serialize>(
        &self,
        done: &T,
        text: impl FnOnce(&T) -> String,
    ) -> Result<(), AppError> {
        output::print(done, self.json, text)
    }
}
