//! The sample audio of the invented harbour-town clinic, compiled in.

use std::path::Path;
use std::path::PathBuf;

use rust_embed::RustEmbed;

use crate::app::AppError;
use crate::app::files;

#[derive(RustEmbed)]
#[folder = "sample_audio/"]
#[include = "*.flac"]
#[include = "*.csv"]
#[include = "*.toml"]
struct Compiled;

/// The sample audio, laid out in a folder.
pub struct Samples {
    folder: PathBuf,
}

impl Samples {
    /// Writes the recordings, the manifest, the consents and the plans into a folder.
    ///
    /// # Errors
    /// [`AppError::File`] if the folder cannot be written.
    pub fn lay_out(folder: &Path) -> Result<Self, AppError> {
        files::make_folder(folder)?;
        for name in Compiled::iter() {
            if let Some(file) = Compiled::get(&name) {
                files::write(&folder.join(&*name), &file.data)?;
            }
        }
        Ok(Self {
            folder: folder.to_owned(),
        })
    }

    /// The folder of the recordings.
    pub fn audio(&self) -> &Path {
        &self.folder
    }

    /// The manifest.
    pub fn manifest(&self) -> PathBuf {
        self.folder.join("manifest.csv")
    }

    /// What the invented families agreed to.
    pub fn consents(&self) -> PathBuf {
        self.folder.join("consents.csv")
    }

    /// The settings of the study.
    pub fn settings(&self) -> PathBuf {
        self.folder.join("study.toml")
    }

    /// The plan of the round that the simulated panel judges.
    pub fn plan(&self) -> PathBuf {
        self.folder.join("plan.toml")
    }

    /// The plan of the round that stays open, to be tried by hand.
    pub fn open_plan(&self) -> PathBuf {
        self.folder.join("plan_open.toml")
    }

    /// The true state of each recording, which only the simulated panel may know.
    pub(super) fn truth(&self) -> PathBuf {
        self.folder.join("true_state.csv")
    }
}
