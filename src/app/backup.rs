//! Backup and restore: a whole study in a folder, with a list of what must be in it.

use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use serde_json::json;

use super::AppError;
use super::Copied;
use super::Now;
use super::Person;
use super::Workspace;
use super::files;
use super::log;
use super::verify;
use crate::exchange;
use crate::seal::Digest;
use crate::store::CopyRow;
use crate::store::Store;
use crate::study::Problem;
use crate::study::Problems;

/// The list of a backup: SHA-256 and path of each file, as common tools read it.
const LIST: &str = "SHA256SUMS";

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct BackedUp {
    /// Files in it, the list left out.
    pub files: usize,
    /// Their bytes.
    pub bytes: u64,
    /// Where the log of the backup stands, short.
    pub receipt: String,
}

/// A backup that was compared with its list.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Checked {
    /// Files in it, the list left out.
    pub files: usize,
    /// Their bytes.
    pub bytes: u64,
}

/// Puts a whole copy of the study into a folder, while listeners go on judging. The folder is there
/// at the end whole, or not at all.
///
/// # Errors
/// [`AppError::Refused`] for a folder that is there already or lies in the study's own;
/// [`AppError::File`] if it cannot be written.
pub fn back_up(workspace: &Workspace, to: &Path, now: Now) -> Result<BackedUp, AppError> {
    copy_whole(workspace, to, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`back_up`].
pub fn back_up_by(
    workspace: &Workspace,
    to: &Path,
    by: &Person,
    now: Now,
) -> Result<BackedUp, AppError> {
    copy_whole(workspace, to, Some(by), now)
}

/// Compares every file of a backup with its list. Nothing is changed.
///
/// # Errors
/// [`AppError::Input`] with everything that is damaged, missing or leads elsewhere;
/// [`AppError::Refused`] for a folder that is no backup.
pub fn check_backup(from: &Path) -> Result<Checked, AppError> {
    let paths = check_against_list(from)?;
    let mut bytes = 0;
    for path in &paths {
        bytes += files::size(&from.join(path))?;
    }
    Ok(Checked {
        files: paths.len(),
        bytes,
    })
}

fn copy_whole(
    workspace: &Workspace,
    to: &Path,
    by: Option<&Person>,
    now: Now,
) -> Result<BackedUp, AppError> {
    must_be_new(to)?;
    let own = workspace.folder().canonicalize();
    let parent = parent_of(to);
    if own.is_ok_and(|own| {
        parent
            .canonicalize()
            .is_ok_and(|parent| parent.starts_with(own))
    }) {
        return Err(AppError::refused(
            format!("{} lies in the study's own folder", to.display()),
            "put the backup on another disk: what harms one would harm both",
        ));
    }
    // Noted first, so that the backup's own log tells of it.
    note_copy(workspace, "backup", to, by, now)?;
    files::make_folder(parent)?;
    let part = beside(to);
    let done = write_backup(workspace, &part).and_then(|done| {
        files::rename(&part, to)?;
        files::settle_folder(parent);
        Ok(done)
    });
    if done.is_err() {
        // What is half done may not even be there.
        let _ = std::fs::remove_dir_all(&part);
    }
    done
}

fn write_backup(workspace: &Workspace, part: &Path) -> Result<BackedUp, AppError> {
    files::make_folder(part)?;
    let store = part.join(Workspace::store_in());
    workspace.store().copy_to(&store)?;
    files::settle(&store)?;
    // What the copy names is there: nothing but an erasure removes a sound.
    let copied = Store::open(&store)?;
    let mut wanted = vec![Workspace::settings_in()];
    wanted.extend(workspace.languages_in()?);
    let (sounds, head) = copied.read(|reading| {
        let mut sounds = BTreeSet::new();
        for token in reading.tokens()? {
            sounds.insert(Workspace::original_in(&token.original_sha256));
            sounds.insert(Workspace::prepared_in(&token.prepared.sha256));
        }
        Ok::<_, AppError>((sounds, reading.head()?))
    })?;
    wanted.extend(sounds);
    drop(copied);
    for folder in Workspace::audio_in() {
        files::make_folder(&part.join(folder))?;
    }
    for path in &wanted {
        let to = part.join(path);
        files::make_folder(parent_of(&to))?;
        files::copy(&workspace.folder().join(path), &to)?;
    }
    wanted.push(Workspace::store_in());
    wanted.sort();
    let (list, bytes) = list_of(part, &wanted)?;
    files::write(&part.join(LIST), list.as_bytes())?;
    for folder in Workspace::audio_in() {
        files::settle_folder(&part.join(folder));
    }
    files::settle_folder(part);
    Ok(BackedUp {
        files: wanted.len(),
        bytes,
        receipt: head.receipt().to_string(),
    })
}

/// The list of an export's files with their SHA-256, as `sha256sum --check` reads it.
pub fn list_of_hashes(files: &[(String, Vec<u8>)]) -> (String, Vec<u8>) {
    let rows: Vec<_> = files
        .iter()
        .map(|(name, bytes)| (name.clone(), Digest::of(bytes).to_string()))
        .collect();
    (LIST.to_owned(), exchange::write_hashes(&rows).into_bytes())
}

fn list_of(folder: &Path, paths: &[PathBuf]) -> Result<(String, u64), AppError> {
    let mut total = 0;
    let mut rows = Vec::with_capacity(paths.len());
    for path in paths {
        let bytes = files::read(&folder.join(path))?;
        total += bytes.len() as u64;
        rows.push((path.display().to_string(), Digest::of(&bytes).to_string()));
    }
    Ok((exchange::write_hashes(&rows), total))
}

/// Makes a study from a backup, in a folder that is not there yet. The backup is looked at first,
/// file by file against its list, and as a study by its log.
///
/// # Errors
/// [`AppError::Input`] with everything that is damaged, missing or not in the list;
/// [`AppError::Refused`] for a folder that is there already. Nothing is left behind then.
pub fn restore(from: &Path, to: &Path) -> Result<BackedUp, AppError> {
    must_be_new(to)?;
    let paths = check_against_list(from)?;
    let parent = parent_of(to);
    files::make_folder(parent)?;
    let part = beside(to);
    let done = lay_out(from, &part, &paths).and_then(|done| {
        files::rename(&part, to)?;
        files::settle_folder(parent);
        Ok(done)
    });
    if done.is_err() {
        // What is half done may not even be there.
        let _ = std::fs::remove_dir_all(&part);
    }
    done
}

fn check_against_list(from: &Path) -> Result<Vec<PathBuf>, AppError> {
    let name = from.join(LIST).display().to_string();
    let list = files::read(&from.join(LIST)).map_err(|_| {
        AppError::refused(
            format!("{} is no backup: it holds no list {LIST}", from.display()),
            "name the folder that `fairhearing backup` made",
        )
    })?;
    let rows = exchange::read_hashes(&name, &list)?;
    let mut problems = Problems::default();
    let mut paths = Vec::with_capacity(rows.len());
    for (path, sha256) in rows {
        let shown = from.join(&path).display().to_string();
        let mend = "take another backup: this one cannot be trusted";
        if !is_inside(Path::new(&path)) {
            problems.push(Problem::new(shown, "leads out of the backup", mend));
            continue;
        }
        match std::fs::read(from.join(&path)) {
            Ok(bytes) if Digest::of(&bytes).to_string() == sha256 => {}
            Ok(_) => problems.push(Problem::new(shown, "is not as it was backed up", mend)),
            Err(error) => {
                problems.push(Problem::new(
                    shown,
                    format!("cannot be read ({error})"),
                    mend,
                ));
            }
        }
        paths.push(PathBuf::from(path));
    }
    if !paths.contains(&Workspace::store_in()) {
        problems.push(Problem::new(
            name,
            "does not list the study's store",
            "name the folder that `fairhearing backup` made",
        ));
    }
    Ok(problems.or(paths)?)
}

fn is_inside(path: &Path) -> bool {
    path.components()
        .all(|step| matches!(step, std::path::Component::Normal(_)))
}

fn lay_out(from: &Path, part: &Path, paths: &[PathBuf]) -> Result<BackedUp, AppError> {
    files::make_folder(part)?;
    for folder in Workspace::audio_in() {
        files::make_folder(&part.join(folder))?;
    }
    let mut bytes = 0;
    for path in paths {
        let to = part.join(path);
        files::make_folder(parent_of(&to))?;
        bytes += files::copy(&from.join(path), &to)?;
    }
    let workspace = Workspace::open(part)?;
    let verified = verify::verify(&workspace, &[])?;
    if let Some(first) = verified.findings.first() {
        return Err(AppError::refused(
            format!(
                "the study in {} is not as it was written: {first}",
                from.display()
            ),
            "take another backup",
        ));
    }
    drop(workspace);
    files::settle_folder(part);
    Ok(BackedUp {
        files: paths.len(),
        bytes,
        receipt: verified.receipt,
    })
}

fn must_be_new(folder: &Path) -> Result<(), AppError> {
    if folder.exists() {
        return Err(AppError::refused(
            format!("{} is there already", folder.display()),
            "name a folder that is not there yet",
        ));
    }
    Ok(())
}

fn parent_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Where a folder is made before it gets its name.
fn beside(folder: &Path) -> PathBuf {
    let mut name = folder.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    folder.with_file_name(name)
}

/// Notes that a copy leaves the study: the log says when and of which kind, the store also where.
pub(super) fn note_copy(
    workspace: &Workspace,
    kind: &'static str,
    place: &Path,
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    let place = whole_path(place);
    let copy = CopyRow {
        kind: kind.to_owned(),
        place: place.display().to_string(),
        made_ms: now.ms(),
    };
    let body = log::by(json!({"kind": kind}), by.map(|by| by.code.as_str()));
    workspace.store().write(move |writing| {
        writing.add_copy(&copy)?;
        log::append(writing, now, "copy made", &body)?;
        Ok(())
    })
}

/// A path from the root, also of what is not there yet, where the system can tell it.
fn whole_path(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default();
    path.canonicalize()
        .or_else(|_| Ok(parent_of(path).canonicalize()?.join(name)))
        .or_else(|_: std::io::Error| std::path::absolute(path))
        .unwrap_or_else(|_| path.to_owned())
}

/// Notes that a file was downloaded at the desk; the log tells by whom.
///
/// # Errors
/// [`AppError::Store`] if it cannot be noted.
pub fn note_download(
    workspace: &Workspace,
    kind: &'static str,
    file: &str,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    let copy = CopyRow {
        kind: kind.to_owned(),
        place: format!("a download, {file}"),
        made_ms: now.ms(),
    };
    let body = log::by(json!({"kind": kind}), Some(&by.code));
    workspace.store().write(move |writing| {
        writing.add_copy(&copy)?;
        log::append(writing, now, "copy made", &body)?;
        Ok(())
    })
}

/// Every copy that was made of the study or of its results, the newest first.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn copies_made(workspace: &Workspace) -> Result<Vec<Copied>, AppError> {
    workspace.store().read(|reading| {
        let copies = reading.copies()?.into_iter().rev();
        copies.map(Copied::of).collect()
    })
}

/// Files in one ZIP, in their order.
///
/// # Errors
/// [`AppError::Unreadable`] if they cannot be packed.
pub fn write_zip(files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, AppError> {
    exchange::write_zip(files).map_err(|error| AppError::Unreadable(error.to_string()))
}

/// Notes that a report of results was put into a folder.
///
/// # Errors
/// [`AppError::Store`] if it cannot be noted.
pub fn note_report(workspace: &Workspace, out: &Path, now: Now) -> Result<(), AppError> {
    note_copy(workspace, "report", out, None, now)
}

/// Notes that an export was put into a folder.
///
/// # Errors
/// [`AppError::Store`] if it cannot be noted.
pub fn note_export(workspace: &Workspace, out: &Path, now: Now) -> Result<(), AppError> {
    note_copy(workspace, "export", out, None, now)
}
