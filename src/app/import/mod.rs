//! Import: a manifest and a folder of recordings become tokens, all or none.

mod compare;
mod entries;
mod hear;
mod recordings;

use std::path::Path;
use std::path::PathBuf;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use crate::exchange;
use crate::exchange::Beside;
use crate::exchange::NamePattern;
use crate::study::Problems;

use entries::Entries;
use hear::Heard;

pub(super) use recordings::InFolder;
pub(super) use recordings::Named;
pub(super) use recordings::Recordings;

/// What an import did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Imported {
    /// Tokens that are new.
    pub added: usize,
    /// Rows whose token was there already.
    pub known: usize,
    /// Rows without a recording that are new.
    pub missing: usize,
}

/// How far an act has come is told to this, from any thread: so many of so many are prepared.
pub type Told<'a> = &'a (dyn Fn(usize, usize) + Sync);

/// Imports the recordings that a manifest names, from a folder.
///
/// # Errors
/// [`AppError::Input`] with everything that is wrong in the manifest and the files; nothing is
/// imported then. [`AppError::File`] or [`AppError::Store`] if the workspace cannot be written;
/// nothing is imported then either.
pub fn import(
    workspace: &Workspace,
    manifest: &Path,
    folder: &Path,
    now: Now,
    progress: Told<'_>,
) -> Result<Imported, AppError> {
    let name = manifest.display().to_string();
    let manifest = files::read(manifest)?;
    let recordings = InFolder(folder.to_owned());
    import_from(workspace, (&name, &manifest), &recordings, now, progress)
}

/// Imports recordings whose names tell what they are; no manifest is asked for.
///
/// # Errors
/// As [`import`]; a name that does not fit the pattern is a problem too.
pub fn import_by_pattern(
    workspace: &Workspace,
    pattern: &str,
    recordings: &[PathBuf],
    now: Now,
    progress: Told<'_>,
) -> Result<Imported, AppError> {
    let pattern: NamePattern = pattern.parse().map_err(AppError::Refused)?;
    let settings = workspace.settings()?;
    let named = Named::of(recordings);
    let beside = Beside::of(&settings);
    let names = named.names();
    let (manifest, strange) =
        exchange::compose_manifest("--name-pattern", &pattern, &names, &beside, &settings);
    let mut problems = Problems::default();
    for problem in strange {
        problems.push(problem);
    }
    problems.or(())?;
    let name = "the names of the files";
    import_from(workspace, (name, &manifest), &named, now, progress)
}

/// Imports what a manifest (its name and its bytes) names, from wherever the recordings lie.
pub(super) fn import_from(
    workspace: &Workspace,
    (name, manifest): (&str, &[u8]),
    recordings: &dyn Recordings,
    now: Now,
    progress: Told<'_>,
) -> Result<Imported, AppError> {
    let settings = workspace.settings()?;
    let rows = exchange::read_manifest(name, manifest, &settings)?;
    check_level(workspace, settings.level_lufs)?;
    let heard = hear::prepare_all(name, recordings, &rows, settings.level_lufs, progress)?;
    let before = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let fresh = compare::fresh(name, &heard, &before)?;
    let stored = store_files(workspace, &heard, &fresh)?;
    let counts = Imported {
        added: fresh.len(),
        known: heard.len() - fresh.len(),
        missing: 0,
    };
    let plan = Entries {
        tokens: heard
            .into_iter()
            .enumerate()
            .filter(|(place, _)| fresh.contains(place))
            .map(|(_, heard)| heard)
            .collect(),
        missing: rows
            .into_iter()
            .filter(|row| row.key.file.is_none())
            .collect(),
        level_lufs: settings.level_lufs,
        manifest: name.to_owned(),
    };
    let written = workspace
        .store()
        .write(move |writing| plan.write(writing, counts, now));
    if written.is_err() {
        stored.take_back();
    }
    written
}

fn check_level(workspace: &Workspace, level_lufs: f64) -> Result<(), AppError> {
    let fixed = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.study_level_lufs()?))?;
    match fixed {
        Some(fixed) if (fixed - level_lufs).abs() > 1e-9 => Err(AppError::refused(
            format!(
                "study.toml says `level_lufs = {level_lufs}`, but words were already prepared at {fixed}"
            ),
            format!("write `level_lufs = {fixed}` again: words at two levels cannot be compared"),
        )),
        _ => Ok(()),
    }
}

/// The files that an import has written, to be taken back if the store refuses.
struct Stored(Vec<PathBuf>);

impl Stored {
    fn take_back(&self) {
        for path in &self.0 {
            // A file that stays behind is named by its content and harms nothing.
            let _ = std::fs::remove_file(path);
        }
    }
}

fn store_files(
    workspace: &Workspace,
    heard: &[Heard],
    fresh: &[usize],
) -> Result<Stored, AppError> {
    let mut stored = Stored(Vec::new());
    for one in fresh.iter().filter_map(|place| heard.get(*place)) {
        for (path, content) in [
            (
                workspace.original(&one.original_sha256),
                one.bytes.as_slice(),
            ),
            (
                workspace.prepared(&one.prepared.sha256),
                one.prepared.wav.as_slice(),
            ),
        ] {
            if path.exists() {
                continue;
            }
            if let Err(error) = files::write(&path, content) {
                stored.take_back();
                return Err(error);
            }
            stored.0.push(path);
        }
    }
    for folder in stored.0.iter().filter_map(|path| path.parent()).take(2) {
        files::settle_folder(folder);
    }
    Ok(stored)
}
