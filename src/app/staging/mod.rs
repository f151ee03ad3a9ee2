//! Staging: files that came through the page wait in a folder of their own, are mended, and become tokens, all or none.
//!
//! Nothing of a file's name reaches the disk as a path: a file lies under the digest of its name, and the name beside it.

mod bounds;
mod compose;
mod folder;
mod look;
mod mend;
mod name;
mod receive;
mod unpack;

use serde_json::json;

use super::AppError;
use super::Imported;
use super::Now;
use super::Told;
use super::Workspace;
use super::import;
use super::log;

pub use bounds::CHUNK_BYTES;
pub use bounds::MOST_STAGED_BYTES;
pub use compose::Composed;
pub use compose::Composing;
pub use compose::compose;
pub use compose::preview;
pub use folder::StagingId;
pub use look::Found;
pub use look::Staged;
pub use look::StagedFile;
pub use look::StagedRow;
pub use look::look;
pub use mend::Mend;
pub use mend::mend;
pub use receive::Held;
pub use receive::Upload;
pub use receive::receive;

use folder::Folder;

/// An import that was begun and neither finished nor thrown away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Begun {
    /// Its name.
    pub id: StagingId,
    /// When it was begun.
    pub begun: Now,
    /// How many files it holds.
    pub files: usize,
}

/// Begins an import: an empty folder.
///
/// # Errors
/// [`AppError::File`] if it cannot be made.
pub fn begin(workspace: &Workspace, now: Now) -> Result<StagingId, AppError> {
    let id = StagingId::drawn();
    Folder::make(workspace, &id, now)?;
    Ok(id)
}

/// The imports that were begun, the latest first.
///
/// # Errors
/// [`AppError::File`] if the folder cannot be read.
pub fn begun(workspace: &Workspace) -> Result<Vec<Begun>, AppError> {
    let mut found = Vec::new();
    for id in Folder::all(workspace)? {
        let folder = Folder::of(workspace, &id)?;
        found.push(Begun {
            begun: folder.begun(),
            files: folder.names()?.len(),
            id,
        });
    }
    found.sort_by_key(|begun| std::cmp::Reverse(begun.begun));
    Ok(found)
}

/// Imports what is staged; the folder goes when all of it has become tokens.
///
/// # Errors
/// As [`import`](super::import()): everything is listed that is wrong, and nothing is imported.
pub fn run(
    workspace: &Workspace,
    id: &StagingId,
    now: Now,
    progress: Told<'_>,
) -> Result<Imported, AppError> {
    let folder = Folder::of(workspace, id)?;
    let (name, manifest) = folder.manifest()?.ok_or_else(|| {
        AppError::refused(
            "no manifest says what the files are",
            "add one, or make it from the files' names",
        )
    })?;
    let recordings = folder.recordings()?;
    let imported = import::import_from(workspace, (&name, &manifest), &recordings, now, progress)?;
    // What cannot be removed is imported all the same; a second import of it would add nothing.
    receive::forget_room(&folder);
    let _ = folder.remove();
    Ok(imported)
}

/// Tells the log that something was refused that this account sent; not what, since its name can tell a child's.
///
/// # Errors
/// [`AppError::Store`] if it cannot be written.
pub fn note_refused(workspace: &Workspace, account: &str, now: Now) -> Result<(), AppError> {
    let body = json!({ "account": account });
    workspace.store().write(move |writing| {
        log::append(writing, now, "upload refused", &body)?;
        Ok(())
    })
}

/// Throws away what was staged. What is not there any more is no error.
///
/// # Errors
/// [`AppError::File`] if it cannot be removed.
pub fn discard(workspace: &Workspace, id: &StagingId) -> Result<(), AppError> {
    match Folder::of(workspace, id) {
        Ok(folder) => {
            receive::forget_room(&folder);
            folder.remove()
        }
        Err(_) => Ok(()),
    }
}
