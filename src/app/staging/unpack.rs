//! Archives: every file of one lands among the staged ones, or none does.

use std::fs::File;
use std::io;
use std::io::Read;
use std::path::Path;
use std::path::PathBuf;

use zip::ZipArchive;
use zip::read::ZipFile;

use super::bounds::ALWAYS_UNPACKED_BYTES;
use super::bounds::MOST_FILES;
use super::bounds::MOST_MANIFEST_BYTES;
use super::bounds::MOST_STAGED_BYTES;
use super::bounds::MOST_UNPACKED_TIMES;
use super::folder::Folder;
use super::name::Kind;
use super::name::StagedName;
use super::receive;
use crate::app::AppError;
use crate::app::files;
use crate::audio;
use crate::study::Problem;
use crate::study::Problems;

/// Unpacks an archive that lies at `path`. Sizes are counted as they come out; what the archive says of itself is believed
/// only where it speaks against it.
pub(super) fn unpack(folder: &Folder, archive: &StagedName, path: &Path) -> Result<(), AppError> {
    let apart = folder.apart()?;
    let outcome = unpack_into(&apart, folder, archive, path);
    let placed = outcome.and_then(|files| {
        for (name, from) in &files {
            receive::put(folder, name, from)?;
        }
        Ok(())
    });
    let removed = files::remove_folder(&apart);
    placed.and(removed)
}

fn unpack_into(
    apart: &Path,
    folder: &Folder,
    archive: &StagedName,
    path: &Path,
) -> Result<Vec<(StagedName, PathBuf)>, AppError> {
    let said = |what: String, mend: &str| Problem::new(archive.as_str(), what, mend);
    let file = File::open(path)
        .map_err(|error| said(format!("cannot be read ({error})"), "send it once more"))?;
    let packed = file.metadata().map_or(0, |about| about.len());
    let mut zip = ZipArchive::new(file).map_err(|error| {
        said(
            format!("is no ZIP archive that can be read ({error})"),
            "pack it again, without a password",
        )
    })?;
    let (there, count) = folder.filled()?;
    let left = MOST_STAGED_BYTES.saturating_sub(there);
    let times = packed.saturating_mul(MOST_UNPACKED_TIMES);
    let most = times.max(ALWAYS_UNPACKED_BYTES).min(left);
    check_whole(&mut zip, most, MOST_FILES.saturating_sub(count)).map_err(|what| {
        said(
            what,
            "pack the recordings themselves, in several archives if need be",
        )
    })?;
    take_out(apart, archive, &mut zip, most)
}

/// What an archive says of itself, before any of it is unpacked.
fn check_whole(zip: &mut ZipArchive<File>, most: u64, files: usize) -> Result<(), String> {
    if zip.len() > files {
        return Err(format!("holds {} files, too many for an import", zip.len()));
    }
    if zip
        .decompressed_size()
        .is_some_and(|size| size > u128::from(most))
    {
        return Err(too_much());
    }
    if zip.has_overlapping_files().unwrap_or(true) {
        return Err("holds files that lie in each other".to_owned());
    }
    Ok(())
}

fn too_much() -> String {
    "unpacks to far more than recordings do".to_owned()
}

fn take_out(
    apart: &Path,
    archive: &StagedName,
    zip: &mut ZipArchive<File>,
    most: u64,
) -> Result<Vec<(StagedName, PathBuf)>, AppError> {
    let mut problems = Problems::default();
    let mut files = Vec::new();
    let mut left = most;
    for place in 0..zip.len() {
        let to = apart.join(place.to_string());
        let taken = zip
            .by_index(place)
            .map_err(|error| Refusal::of(format!("a file in it cannot be read ({error})")))
            .and_then(|entry| take_one(entry, &to, left));
        match taken {
            Ok(Some((name, bytes))) => {
                left -= bytes.min(left);
                files.push((name, to));
            }
            Ok(None) => {}
            Err(Refusal { what, last }) => {
                let mend = "mend it and pack the archive again, without a password";
                problems.push(Problem::new(archive.as_str(), what, mend));
                if last {
                    break;
                }
            }
        }
    }
    Ok(problems.or(files)?)
}

/// Why a file of an archive cannot be taken, and whether it is no use to look further.
struct Refusal {
    what: String,
    last: bool,
}

impl Refusal {
    const fn of(what: String) -> Self {
        Self { what, last: false }
    }
}

/// Writes one file of an archive to `to`; nothing for a folder and for what a system leaves behind.
fn take_one(
    mut entry: ZipFile<'_, File>,
    to: &Path,
    left: u64,
) -> Result<Option<(StagedName, u64)>, Refusal> {
    if entry.is_dir() {
        return Ok(None);
    }
    let raw = entry
        .name()
        .map_err(|error| Refusal::of(format!("the name of a file in it cannot be read ({error})")))?
        .into_owned();
    let name = StagedName::new(&raw).map_err(|refusal| Refusal::of(refusal.what))?;
    if entry.is_symlink() {
        return Err(Refusal::of(format!("`{raw}` is a link to another file")));
    }
    let (largest, for_what) = match name.kind() {
        Kind::Litter => return Ok(None),
        Kind::Archive => return Err(Refusal::of(format!("`{raw}` is an archive in an archive"))),
        Kind::Manifest => (MOST_MANIFEST_BYTES, "a manifest"),
        Kind::Recording => (audio::bounds::MOST_BYTES, "one word"),
    };
    let most = left.min(largest);
    let written = File::create(to)
        .and_then(|mut file| io::copy(&mut entry.by_ref().take(most + 1), &mut file))
        .map_err(|error| Refusal::of(format!("`{raw}` cannot be unpacked ({error})")))?;
    if written <= most {
        return Ok(Some((name, written)));
    }
    if most < left {
        return Err(Refusal::of(format!("`{raw}` is too large for {for_what}")));
    }
    Err(Refusal {
        what: too_much(),
        last: true,
    })
}
