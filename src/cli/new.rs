//! `new`: makes a workspace.

use std::path::PathBuf;

use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;

/// Make a workspace: the folder of one study.
#[derive(clap::Args)]
pub(super) struct New {
    /// The folder; it is made if it is not there.
    dir: PathBuf,
}

impl New {
    pub(super) fn run(self) -> Result<(), AppError> {
        Workspace::make(&self.dir, Now::read())?;
        println!(
            "Made a study in {dir}. Describe it in {dir}/study.toml, then import recordings:\n  \
             fairhearing import --workspace {dir} --manifest MANIFEST.csv --audio FOLDER",
            dir = self.dir.display()
        );
        Ok(())
    }
}
