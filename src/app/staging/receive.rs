//! Files that come in: whole or in parts that follow each other, so that an upload that broke off goes on where it was.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::PoisonError;

use super::bounds::MOST_ARCHIVE_BYTES;
use super::bounds::MOST_FILES;
use super::bounds::MOST_MANIFEST_BYTES;
use super::bounds::MOST_STAGED_BYTES;
use super::folder::Folder;
use super::folder::StagingId;
use super::name::Kind;
use super::name::StagedName;
use super::unpack;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::files;
use crate::audio;

/// One part at a time: two tabs that send the same file do not write into each other. Beside it stands how much each folder
/// holds at most, so that it need not be counted for every file.
static COMING: Mutex<BTreeMap<PathBuf, Room>> = Mutex::new(BTreeMap::new());

/// Bytes and files that a folder holds, or a little more: a file that came twice is counted twice until it matters.
#[derive(Debug, Clone, Copy)]
struct Room {
    bytes: u64,
    files: usize,
}

impl Room {
    fn counted(folder: &Folder) -> Result<Self, AppError> {
        let (bytes, files) = folder.filled()?;
        Ok(Self { bytes, files })
    }

    fn with(self, bytes: u64) -> Self {
        Self {
            bytes: self.bytes.saturating_add(bytes),
            files: self.files.saturating_add(1),
        }
    }

    fn is_too_much(self) -> bool {
        self.files > MOST_FILES || self.bytes > MOST_STAGED_BYTES
    }
}

/// A part of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Upload<'a> {
    /// What the file is called, its folders before it.
    pub name: &'a str,
    /// Where the part begins, in bytes.
    pub offset: u64,
    /// How many bytes the whole file has; where that is not known yet, any number beyond the part.
    pub total: u64,
}

/// How much of a file is here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Held {
    /// Bytes that are here: the next part begins there.
    pub held: u64,
    /// Whether that is all of it.
    pub whole: bool,
}

/// Takes in a part of a file. A part that does not begin where the last one ended is left out of account: the answer says
/// where to go on. With the last part an archive is unpacked, and a CSV becomes the manifest if it can be one.
///
/// # Errors
/// [`AppError::Refused`] for a name that leads elsewhere and for more than may be staged; [`AppError::Input`] for an archive
/// that cannot be taken; [`AppError::File`] if the disk does not take it. What was there before stays.
pub fn receive(
    workspace: &Workspace,
    id: &StagingId,
    upload: Upload<'_>,
    bytes: &[u8],
) -> Result<Held, AppError> {
    let folder = Folder::of(workspace, id)?;
    let name = StagedName::given(upload.name)?;
    if name.kind() == Kind::Litter {
        return Ok(Held {
            held: upload.total,
            whole: true,
        });
    }
    let mut rooms = COMING.lock().unwrap_or_else(PoisonError::into_inner);
    if upload.offset == 0 {
        check_size(&name, upload.total)?;
        take_room(&mut rooms, &folder, upload.total)?;
        files::write(&folder.part(&name), &[])?;
        folder.note_name(&name)?;
    }
    let held = folder.sizes(&name).1.unwrap_or(0);
    let end = upload.offset.saturating_add(bytes.len() as u64);
    if held != upload.offset || end > upload.total {
        return Ok(Held { held, whole: false });
    }
    if let Err(refused) = check_size(&name, end) {
        give_up(&folder, &name)?;
        return Err(refused);
    }
    append(&folder.part(&name), bytes)?;
    let whole = end == upload.total;
    if whole {
        if name.kind() != Kind::Recording {
            // What is unpacked, and what becomes the manifest, is counted anew.
            rooms.remove(folder.path());
        }
        settle(&folder, &name)?;
    }
    Ok(Held { held: end, whole })
}

fn append(path: &Path, bytes: &[u8]) -> Result<(), AppError> {
    let open = OpenOptions::new().append(true).open(path);
    let written = open.and_then(|mut file| file.write_all(bytes));
    written.map_err(|source| AppError::File {
        what: "cannot write",
        path: path.display().to_string(),
        source,
    })
}

/// What came whole takes its place.
fn settle(folder: &Folder, name: &StagedName) -> Result<(), AppError> {
    let part = folder.part(name);
    match name.kind() {
        Kind::Archive => {
            let unpacked = unpack::unpack(folder, name, &part);
            forget(folder, name)?;
            unpacked
        }
        Kind::Manifest => {
            let bytes = files::read(&part)?;
            if folder.offer_manifest(name.as_str(), &bytes)? {
                forget(folder, name)
            } else {
                files::rename(&part, &folder.whole(name))
            }
        }
        _ => files::rename(&part, &folder.whole(name)),
    }
}

/// Gives up a file that is coming; one of its name that came whole before stays.
fn give_up(folder: &Folder, name: &StagedName) -> Result<(), AppError> {
    if folder.whole(name).exists() {
        files::remove(&folder.part(name))
    } else {
        forget(folder, name)
    }
}

/// Takes an archive or a manifest off the list of recordings.
fn forget(folder: &Folder, name: &StagedName) -> Result<(), AppError> {
    files::remove(&folder.part(name))?;
    files::remove(&folder.whole(name).with_extension("name"))
}

fn check_size(name: &StagedName, total: u64) -> Result<(), AppError> {
    let (what, most) = match name.kind() {
        Kind::Archive => ("an archive", MOST_ARCHIVE_BYTES),
        Kind::Manifest => ("a manifest", MOST_MANIFEST_BYTES),
        _ => ("a recording of one word", audio::bounds::MOST_BYTES),
    };
    if total > most {
        return Err(AppError::refused(
            format!("`{}` is too large for {what}", name.as_str()),
            format!("{} million bytes are the most", most / 1_000_000),
        ));
    }
    Ok(())
}

/// Makes room for a file of this size. Only where it seems to be too much, all is counted.
fn take_room(
    rooms: &mut BTreeMap<PathBuf, Room>,
    folder: &Folder,
    total: u64,
) -> Result<(), AppError> {
    let known = rooms.get(folder.path()).map(|room| room.with(total));
    let room = match known.filter(|room| !room.is_too_much()) {
        Some(room) => room,
        None => Room::counted(folder)?.with(total),
    };
    if room.is_too_much() {
        return Err(AppError::refused(
            format!(
                "an import takes {MOST_FILES} files and {} million bytes at most",
                MOST_STAGED_BYTES / 1_000_000
            ),
            "import these first, then the rest",
        ));
    }
    rooms.insert(folder.path().to_owned(), room);
    Ok(())
}

/// Forgets how much a folder holds that is gone.
pub(super) fn forget_room(folder: &Folder) {
    let mut rooms = COMING.lock().unwrap_or_else(PoisonError::into_inner);
    rooms.remove(folder.path());
}

/// Moves an unpacked file to its place.
pub(super) fn put(folder: &Folder, name: &StagedName, from: &Path) -> Result<(), AppError> {
    if name.kind() == Kind::Manifest {
        let bytes = files::read(from)?;
        if folder.offer_manifest(name.as_str(), &bytes)? {
            return Ok(());
        }
    }
    files::rename(from, &folder.whole(name))?;
    folder.note_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::Now;

    #[test]
    fn what_seems_too_much_is_counted_before_it_is_refused() {
        let disk = tempfile::tempdir().unwrap();
        let workspace = Workspace::make(&disk.path().join("study"), Now::at_ms(0)).unwrap();
        let folder = Folder::make(&workspace, &StagingId::drawn(), Now::at_ms(0)).unwrap();
        let mut rooms = BTreeMap::new();
        let full = Room {
            bytes: MOST_STAGED_BYTES,
            files: MOST_FILES,
        };
        rooms.insert(folder.path().to_owned(), full);
        // The folder is empty: the same file came again and again.
        take_room(&mut rooms, &folder, 10).unwrap();
        let room = rooms[folder.path()];
        assert_eq!((room.bytes, room.files), (10, 1));
        take_room(&mut rooms, &folder, 5).unwrap();
        let room = rooms[folder.path()];
        assert_eq!((room.bytes, room.files), (15, 2));
        assert!(take_room(&mut rooms, &folder, MOST_STAGED_BYTES + 1).is_err());
        assert_eq!(rooms[folder.path()].bytes, 15);
    }
}
