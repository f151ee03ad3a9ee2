//! Import: a manifest and a folder of recordings become tokens, all or none.

mod compare;
mod entries;
mod hear;
mod incoming;
mod recordings;

use std::collections::BTreeSet;
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
use crate::exchange::ManifestRow;
use crate::exchange::NamePattern;
use crate::store::ChildRow;
use crate::study::ChildCode;
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
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Imported {
    /// Tokens that are new.
    pub added: usize,
    /// Rows whose token was there already.
    pub known: usize,
    /// Rows without a recording that are new.
    pub missing: usize,
    /// New recordings with something to listen for, in the order of the rows.
    pub remarked: Vec<Remarked>,
    /// Children of whom the study knew nothing, in the order of their codes.
    pub new_children: Vec<ChildCode>,
    /// How many children were erased from this study before.
    pub erased_before: usize,
}

/// A recording with remarks on its quality.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remarked {
    /// The file, as the manifest calls it.
    pub file: String,
    /// The remarks, a sentence each.
    pub remarks: Vec<String>,
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
    if !folder.is_dir() {
        return Err(AppError::refused(
            format!("{} is no folder", folder.display()),
            "name with --audio the folder that holds the recordings",
        ));
    }
    let recordings = InFolder(folder.to_owned());
    let manifest = exchange::divided_by_commas(&manifest);
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
    let (before, children) = workspace
        .store()
        .read(|reading| Ok::<_, AppError>((reading.tokens()?, reading.children()?)))?;
    let fresh = compare::fresh(name, &heard, &before)?;
    let imported = Imported {
        added: fresh.len(),
        known: heard.len() - fresh.len(),
        missing: 0,
        remarked: remarked(&heard, &fresh),
        new_children: new_children(&rows, &children),
        erased_before: erasures,
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
        let imported = plan.write(writing, imported, now)?;
        own_moves.carry_out()?;
        Ok(imported)
    });
    if written.is_err() {
        moves.take_back();
    }
    written
}

/// What is new and has a remark on its quality.
fn remarked(heard: &[Heard], fresh: &[usize]) -> Vec<Remarked> {
    let new = fresh.iter().filter_map(|place| heard.get(*place));
    new.filter(|one| !one.prepared.marks.is_empty())
        .map(|one| Remarked {
            file: one.key.file.clone().unwrap_or_default(),
            remarks: one.prepared.marks.clone(),
        })
        .collect()
}

/// The children whom an import brings, a child of scored words each.
fn new_children(rows: &[ManifestRow], known: &[ChildRow]) -> Vec<ChildCode> {
    let scored = rows.iter().filter(|row| row.key.use_.is_scored());
    let named: BTreeSet<_> = scored.filter_map(|row| row.key.child.as_ref()).collect();
    named
        .into_iter()
        .filter(|code| known.iter().all(|child| child.code != **code))
        .cloned()
        .collect()
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
