//! Files and folders: whole or not at all.

use std::fs;
use std::fs::File;
use std::io::Write;
use std::path::Path;

use super::AppError;

/// The content of a file.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, AppError> {
    fs::read(path).map_err(|source| failed("cannot read", path, source))
}

/// The content of a text file.
pub(super) fn read_text(path: &Path) -> Result<String, AppError> {
    fs::read_to_string(path).map_err(|source| failed("cannot read", path, source))
}

/// Makes a folder and those above it.
pub(super) fn make_folder(path: &Path) -> Result<(), AppError> {
    fs::create_dir_all(path).map_err(|source| failed("cannot make the folder", path, source))
}

/// Writes a file so that it is there whole and on the disk, or not at all.
pub(super) fn write(path: &Path, content: &[u8]) -> Result<(), AppError> {
    let beside = path.with_extension("part");
    let written = File::create(&beside)
        .and_then(|mut file| file.write_all(content).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&beside, path));
    written.map_err(|source| {
        // The half-written file may not even be there.
        let _ = fs::remove_file(&beside);
        failed("cannot write", path, source)
    })
}

/// The names of what lies in a folder, in no order; names that are no text are left out.
pub(super) fn names_in(path: &Path) -> Result<Vec<String>, AppError> {
    let entries = fs::read_dir(path).map_err(|source| failed("cannot read", path, source))?;
    let names = entries.flatten().map(|entry| entry.file_name());
    Ok(names.filter_map(|name| name.into_string().ok()).collect())
}

/// Moves a file over another.
pub(super) fn rename(from: &Path, to: &Path) -> Result<(), AppError> {
    fs::rename(from, to).map_err(|source| failed("cannot write", to, source))
}

/// Removes a file; one that is not there is no error.
pub(super) fn remove(path: &Path) -> Result<(), AppError> {
    match fs::remove_file(path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
            Err(failed("cannot remove", path, source))
        }
        _ => Ok(()),
    }
}

/// Removes a folder with all that is in it.
pub(super) fn remove_folder(path: &Path) -> Result<(), AppError> {
    fs::remove_dir_all(path).map_err(|source| failed("cannot remove", path, source))
}

/// Brings a folder's list of names to the disk, where the system can.
pub(super) fn settle_folder(path: &Path) {
    if let Ok(folder) = File::open(path) {
        // Some systems cannot; the files themselves are on the disk already.
        let _ = folder.sync_all();
    }
}

fn failed(what: &'static str, path: &Path, source: std::io::Error) -> AppError {
    AppError::File {
        what,
        path: path.display().to_string(),
        source,
    }
}
