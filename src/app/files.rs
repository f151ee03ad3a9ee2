//! Files and folders: whole or not at all.

use std::ffi::OsString;
use std::fs;
use std::fs::File;
use std::io::Write;
use std::path::Path;

use super::AppError;

/// The content of a file.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, AppError> {
    fs::read(path).map_err(|source| failed("cannot read", path, source))
}

/// How many bytes a file has.
pub(super) fn size(path: &Path) -> Result<u64, AppError> {
    let about = fs::metadata(path).map_err(|source| failed("cannot read", path, source))?;
    Ok(about.len())
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

/// Brings a folder's list of names to the disk, where the system can.
pub(super) fn settle_folder(path: &Path) {
    if let Ok(folder) = File::open(path) {
        // Some systems cannot; the files themselves are on the disk already.
        let _ = folder.sync_all();
    }
}

/// Brings a file that something else wrote to the disk.
pub(super) fn settle(path: &Path) -> Result<(), AppError> {
    let settled = File::open(path).and_then(|file| file.sync_all());
    settled.map_err(|source| failed("cannot write", path, source))
}

/// Copies a file, onto the disk; says how many bytes it has.
pub(super) fn copy(from: &Path, to: &Path) -> Result<u64, AppError> {
    let bytes = fs::copy(from, to).map_err(|source| failed("cannot copy", from, source))?;
    settle(to)?;
    Ok(bytes)
}

/// Gives a file or folder another name.
pub(super) fn rename(from: &Path, to: &Path) -> Result<(), AppError> {
    fs::rename(from, to).map_err(|source| failed("cannot write", to, source))
}

/// Holds a lock on a file, which is made, for as long as it is kept; `None` if another holds it.
pub(super) fn lock(path: &Path) -> Result<Option<File>, AppError> {
    let file = File::create(path).map_err(|source| failed("cannot write", path, source))?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(fs::TryLockError::WouldBlock) => Ok(None),
        Err(fs::TryLockError::Error(source)) => Err(failed("cannot lock", path, source)),
    }
}

/// The names in a folder, in order.
pub(super) fn names_in(folder: &Path) -> Result<Vec<OsString>, AppError> {
    let names = fs::read_dir(folder).and_then(|entries| {
        entries
            .map(|entry| Ok(entry?.file_name()))
            .collect::<Result<Vec<_>, _>>()
    });
    let mut names = names.map_err(|source| failed("cannot look into", folder, source))?;
    names.sort();
    Ok(names)
}

/// Removes a file; one that is gone already is as good.
pub(super) fn remove(path: &Path) -> Result<(), AppError> {
    match fs::remove_file(path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
            Err(failed("cannot remove", path, source))
        }
        _ => Ok(()),
    }
}

/// Removes a folder with all that it holds; one that is gone already is as good.
pub(super) fn remove_folder(path: &Path) -> Result<(), AppError> {
    match fs::remove_dir_all(path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
            Err(failed("cannot remove", path, source))
        }
        _ => Ok(()),
    }
}

/// Puts a file in the place of another; once it is done, doing it again changes nothing.
pub(super) fn take_the_place(fresh: &Path, path: &Path) -> Result<(), AppError> {
    match fs::rename(fresh, path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
            Err(failed("cannot write", path, source))
        }
        _ => Ok(()),
    }
}

fn failed(what: &'static str, path: &Path, source: std::io::Error) -> AppError {
    AppError::File {
        what,
        path: path.display().to_string(),
        source,
    }
}
