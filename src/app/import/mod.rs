//! Import: a manifest and a folder of recordings become tokens, all or none.

mod compare;
mod entries;
mod hear;
mod incoming;
mod recordings;

use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use super::verify::gone;
use crate::exchange;
use crate::exchange::Beside;
use crate::exchange::NamePattern;
use crate::study::Problems;

use entries::Entries;
use entries::Entry;
use hear::Heard;
use incoming::Incoming;
use incoming::Moves;

pub(super) use incoming::clear as clear_stale;

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
    let erasures = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(gone::erasures(&reading.gone()?)))?;
    let settings = workspace.settings()?;
    let rows = exchange::read_manifest(name, manifest, &settings)?;
    check_level(workspace, settings.level_lufs)?;
    let incoming = Incoming::begin(workspace)?;
    let level = settings.level_lufs;
    let heard = hear::prepare_all(name, recordings, &rows, level, &incoming, progress)?;
    let before = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let fresh = compare::fresh(name, &heard, &before)?;
    let counts = Imported {
        added: fresh.len(),
        known: heard.len() - fresh.len(),
        missing: 0,
    };
    let (tokens, moves) = taken_in(workspace, heard, &fresh);
    let plan = Entries {
        tokens,
        missing: rows
            .into_iter()
            .filter(|row| row.key.file.is_none())
            .collect(),
        level_lufs: level,
        manifest: name.to_owned(),
    };
    let moves = Arc::new(moves);
    let own_moves = Arc::clone(&moves);
    // The files go to their places inside the job: an erasure, which removes what no word names,
    // waits for it.
    let written = workspace.store().write(move |writing| {
        check_nobody_left(erasures, &writing.gone()?)?;
        let counts = plan.write(writing, counts, now)?;
        own_moves.carry_out()?;
        Ok(counts)
    });
    if written.is_err() {
        moves.take_back();
    }
    written
}

/// The recordings that are new, and where their files go.
fn taken_in(workspace: &Workspace, heard: Vec<Heard>, fresh: &[usize]) -> (Vec<Entry>, Moves) {
    let mut entries = Vec::with_capacity(fresh.len());
    let mut moves = Moves::new();
    for (place, one) in heard.into_iter().enumerate() {
        if fresh.binary_search(&place).is_err() {
            continue;
        }
        moves.add(
            one.waiting,
            workspace.original(&one.original_sha256),
            workspace.prepared(&one.prepared.sha256),
        );
        entries.push(Entry {
            line: one.line,
            key: one.key,
            original_sha256: one.original_sha256,
            samples_sha256: one.samples_sha256,
            prepared: one.prepared,
        });
    }
    (entries, moves)
}

/// Whoever was erased while the recordings were prepared does not come back with them.
fn check_nobody_left(erasures_before: usize, gone: &[String]) -> Result<(), AppError> {
    if gone::erasures(gone) == erasures_before {
        return Ok(());
    }
    Err(AppError::refused(
        "a child was erased while these recordings were prepared",
        "import again, without the recordings of that child",
    ))
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
