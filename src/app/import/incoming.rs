//! Where recordings wait until all of a manifest are prepared: a folder of one import, which ends
//! empty. Nothing is held in memory but one recording a core.

use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use crate::app::AppError;
use crate::app::Workspace;
use crate::app::files;
use crate::audio::Prepared;

/// The folder, from the study's folder.
const INCOMING: &str = "incoming";

/// Who holds a lock on this file imports.
const LOCK: &str = "lock";

/// The folder of an import that is under way. It is removed at the end, however that comes.
pub(super) struct Incoming {
    folder: PathBuf,
    _lock: File,
}

/// The two files of a row: the recording as it came, and what was prepared of it.
pub(super) struct Waiting {
    original: PathBuf,
    prepared: PathBuf,
}

impl Incoming {
    /// Begins an import. What an earlier one that was killed left there is removed.
    pub(super) fn begin(workspace: &Workspace) -> Result<Self, AppError> {
        let folder = workspace.folder().join(INCOMING);
        files::make_folder(&folder)?;
        let path = folder.join(LOCK);
        let lock = files::lock(&path)?.ok_or_else(|| {
            AppError::refused(
                "another import into this study is under way",
                "wait until it is done, then import again",
            )
        })?;
        for name in files::names_in(&folder)? {
            if name != LOCK {
                files::remove(&folder.join(name))?;
            }
        }
        Ok(Self {
            folder,
            _lock: lock,
        })
    }

    /// Puts down the two files of a row, onto the disk.
    pub(super) fn put(
        &self,
        line: u64,
        recording: &[u8],
        prepared: &Prepared,
    ) -> Result<Waiting, AppError> {
        let waiting = Waiting {
            original: self.folder.join(format!("{line}.original")),
            prepared: self.folder.join(format!("{line}.wav")),
        };
        files::write(&waiting.original, recording)?;
        files::write(&waiting.prepared, &prepared.wav)?;
        Ok(waiting)
    }
}

impl Drop for Incoming {
    fn drop(&mut self) {
        // What stays behind is removed by the next import.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// Removes what an import that was killed left behind, unless one is under way.
pub(in crate::app) fn clear(workspace: &Workspace) -> Result<(), AppError> {
    if workspace.folder().join(INCOMING).exists() {
        match Incoming::begin(workspace) {
            Ok(stale) => drop(stale),
            Err(AppError::Refused(_)) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

/// The moves that make an import's files the study's own.
pub(super) struct Moves(Vec<(PathBuf, PathBuf)>);

impl Moves {
    pub(super) fn new() -> Self {
        Self(Vec::new())
    }

    /// Adds the two files of a row, each unless the study has it.
    pub(super) fn add(&mut self, waiting: Waiting, original: PathBuf, prepared: PathBuf) {
        let both = [(waiting.original, original), (waiting.prepared, prepared)];
        self.0
            .extend(both.into_iter().filter(|(_, to)| !to.exists()));
    }

    /// Moves all of them. What was moved before a failure is moved back by [`Self::take_back`].
    pub(super) fn carry_out(&self) -> Result<(), AppError> {
        for (from, to) in &self.0 {
            files::rename(from, to)?;
        }
        let mut folders: Vec<_> = self.0.iter().filter_map(|(_, to)| to.parent()).collect();
        folders.sort_unstable();
        folders.dedup();
        for folder in folders {
            files::settle_folder(folder);
        }
        Ok(())
    }

    /// Removes what was moved already.
    pub(super) fn take_back(&self) {
        let moved = |(from, to): &&(PathBuf, PathBuf)| !from.exists() && Path::exists(to);
        for (_, to) in self.0.iter().filter(moved) {
            // A file that stays behind is named by its content and harms nothing.
            let _ = std::fs::remove_file(to);
        }
    }
}
