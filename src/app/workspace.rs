//! A workspace: the folder of one study.

use std::ffi::OsStr;
use std::path::Path;
use std::path::PathBuf;

use super::AppError;
use super::Now;
use super::files;
use super::withdraw;
use crate::exchange;
use crate::seal::Canonical;
use crate::store::Store;
use crate::study::StudySettings;

/// What a fresh `study.toml` holds.
const FRESH_SETTINGS: &str = include_str!("study.toml");

/// The folder of one study, open.
#[derive(Clone)]
pub struct Workspace {
    folder: PathBuf,
    store: Store,
}

impl Workspace {
    /// Makes a workspace in a folder, which may be there already but must hold none.
    ///
    /// # Errors
    /// [`AppError::Refused`] if the folder holds a study; [`AppError::File`] or
    /// [`AppError::Store`] if it cannot be written.
    pub fn make(folder: &Path, now: Now) -> Result<Self, AppError> {
        if folder.join(STORE).exists() || folder.join(SETTINGS).exists() {
            return Err(AppError::refused(
                format!("{} holds a study already", folder.display()),
                "choose another folder, or work in this one with --workspace",
            ));
        }
        for inner in [ORIGINALS, PREPARED] {
            files::make_folder(&folder.join(inner))?;
        }
        let store = Store::open(&folder.join(STORE))?;
        store.write(move |writing| {
            writing.make_study(now.ms())?;
            writing.append_event(now.ms(), "study made", Canonical::stored("{}"))?;
            Ok::<_, AppError>(())
        })?;
        files::write(&folder.join(SETTINGS), FRESH_SETTINGS.as_bytes())?;
        Ok(Self {
            folder: folder.to_owned(),
            store,
        })
    }

    /// Opens the workspace in a folder.
    ///
    /// # Errors
    /// [`AppError::Refused`] if the folder holds no study; [`AppError::Store`] if it cannot be
    /// opened, or belongs to a newer program.
    pub fn open(folder: &Path) -> Result<Self, AppError> {
        if !folder.join(STORE).exists() {
            return Err(AppError::refused(
                format!("{} holds no study", folder.display()),
                "make one with `fairhearing new DIR`, or name its folder with --workspace",
            ));
        }
        let workspace = Self {
            folder: folder.to_owned(),
            store: Store::open(&folder.join(STORE))?,
        };
        // An erasure that was cut off goes on before anything else is done.
        withdraw::finish(&workspace)?;
        Ok(workspace)
    }

    /// The study's settings as `study.toml` gives them now.
    ///
    /// # Errors
    /// [`AppError::Input`] if the file is wrong, [`AppError::File`] if it cannot be read.
    pub fn settings(&self) -> Result<StudySettings, AppError> {
        let path = self.settings_file();
        Ok(exchange::read_settings(
            &path.display().to_string(),
            &files::read_text(&path)?,
        )?)
    }

    /// Where the settings lie.
    pub(super) fn settings_file(&self) -> PathBuf {
        self.folder.join(SETTINGS)
    }

    /// The store.
    pub(super) const fn store(&self) -> &Store {
        &self.store
    }

    /// The study's folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where a recording is kept untouched.
    pub(super) fn original(&self, sha256: &str) -> PathBuf {
        self.folder.join(Self::original_in(sha256))
    }

    /// Where prepared audio lies.
    pub(super) fn prepared(&self, sha256: &str) -> PathBuf {
        self.folder.join(Self::prepared_in(sha256))
    }

    /// Where a recording is kept, from the study's folder.
    pub(super) fn original_in(sha256: &str) -> PathBuf {
        Path::new(ORIGINALS).join(sha256)
    }

    /// Where prepared audio lies, from the study's folder.
    pub(super) fn prepared_in(sha256: &str) -> PathBuf {
        Path::new(PREPARED).join(format!("{sha256}.wav"))
    }

    /// The store, from the study's folder.
    pub(super) fn store_in() -> PathBuf {
        PathBuf::from(STORE)
    }

    /// The settings, from the study's folder.
    pub(super) fn settings_in() -> PathBuf {
        PathBuf::from(SETTINGS)
    }

    /// The folders that hold sound, from the study's folder.
    pub(super) fn audio_in() -> [PathBuf; 2] {
        [ORIGINALS, PREPARED].map(PathBuf::from)
    }

    /// The folders that hold sound.
    pub(super) fn audio_folders(&self) -> [PathBuf; 2] {
        Self::audio_in().map(|inner| self.folder.join(inner))
    }

    /// Where recordings wait that were uploaded and are not imported yet.
    pub(super) fn staging(&self) -> PathBuf {
        self.folder.join(STAGING)
    }

    /// Whether a name in the study's folder is the store's or the audio's, and no file of a person.
    pub(super) fn is_its_own(name: &OsStr) -> bool {
        let name = name.to_string_lossy();
        name.starts_with(STORE) || OWN_FOLDERS.contains(&&*name)
    }
}

const STORE: &str = "fairhearing.db";
const SETTINGS: &str = "study.toml";
const ORIGINALS: &str = "originals";
const PREPARED: &str = "prepared";

/// The folders in the study's folder that acts make: sounds, and what waits to take its place.
const OWN_FOLDERS: [&str; 5] = [ORIGINALS, PREPARED, STAGING, "incoming", "erasing"];

/// What was uploaded and is not imported yet.
const STAGING: &str = "staging";
