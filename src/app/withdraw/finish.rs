//! The second half of an erasure: files go, tables are exchanged, pages are written anew. Every step
//! may be done again, so that a kill at any place does no harm.

use std::collections::BTreeSet;
use std::fs::File;
use std::path::Path;

use crate::app::AppError;
use crate::app::Workspace;
use crate::app::files;
use crate::app::import;

/// Where tables wait that take the place of others; relative to the study's folder.
pub(super) const CHANGED: &str = "erasing";

/// Who holds a lock on this file in that folder erases.
const LOCK: &str = "lock";

/// All files are gone; the store's pages are still to be written anew.
pub(super) const SCRUB: &str = "scrub";

/// Recordings that wait to be imported, or came in with an import that was killed, may be the child's.
pub(super) const RECORDINGS: &str = "recordings";

const REMOVE: &str = "remove ";
const REPLACE: &str = "replace ";

/// Between the two paths of a table and its successor; no path holds it.
const BY: char = '\n';

/// The step that removes a file.
pub(super) fn remove(path: &Path) -> String {
    format!("{REMOVE}{}", path.display())
}

/// The step that puts a file in the place of another.
pub(super) fn replace(fresh: &Path, path: &Path) -> String {
    format!("{REPLACE}{}{BY}{}", fresh.display(), path.display())
}

/// The steps that remove recordings and what was prepared of them.
pub(super) fn audio_of(originals: &BTreeSet<String>, prepared: &BTreeSet<String>) -> Vec<String> {
    let originals = originals
        .iter()
        .map(|sha256| remove(&Workspace::original_in(sha256)));
    let prepared = prepared
        .iter()
        .map(|sha256| remove(&Workspace::prepared_in(sha256)));
    originals.chain(prepared).collect()
}

/// The right to erase, held by one at a time.
pub(super) struct Turn<'a> {
    workspace: &'a Workspace,
    _lock: File,
}

impl<'a> Turn<'a> {
    /// Takes it, and first does what an earlier erasure left undone: what is noted of the next one takes the place of what was
    /// noted of that.
    pub(super) fn take(workspace: &'a Workspace) -> Result<Self, AppError> {
        Self::free(workspace)?.ok_or_else(|| {
            AppError::refused(
                "another erasure in this study is under way",
                "wait until it is done, then try again",
            )
        })
    }

    /// The same; nothing where somebody else erases.
    fn free(workspace: &'a Workspace) -> Result<Option<Self>, AppError> {
        let folder = workspace.folder().join(CHANGED);
        files::make_folder(&folder)?;
        let Some(lock) = files::lock(&folder.join(LOCK))? else {
            return Ok(None);
        };
        let turn = Self {
            workspace,
            _lock: lock,
        };
        turn.carry_out()?;
        for name in files::names_in(&folder)? {
            if name != LOCK {
                files::remove(&folder.join(name))?;
            }
        }
        Ok(Some(turn))
    }

    /// Does what is noted, and gives the turn back.
    pub(super) fn finish(self) -> Result<(), AppError> {
        self.carry_out()?;
        self.give_back();
        Ok(())
    }

    fn give_back(self) {
        // What stays behind is removed by the next start.
        let _ = std::fs::remove_dir_all(self.workspace.folder().join(CHANGED));
    }

    /// Does what is left to do of an erasure.
    fn carry_out(&self) -> Result<(), AppError> {
        let workspace = self.workspace;
        let steps = unfinished(workspace)?;
        if steps.is_empty() {
            return Ok(());
        }
        files_and_tables(workspace, &steps)?;
        if steps.iter().any(|step| step == RECORDINGS) {
            import::clear_stale(workspace)?;
            // Whose recordings wait there cannot be told: whoever uploaded them does it again.
            files::remove_folder(&workspace.staging())?;
            remove_strays(workspace)?;
        }
        note(workspace, vec![SCRUB.to_owned()])?;
        workspace.store().scrub()?;
        note(workspace, Vec::new())
    }
}

/// Goes on with an erasure that was begun, if there is one; a kill may have left one to the next start.
pub(in crate::app) fn finish(workspace: &Workspace) -> Result<(), AppError> {
    let begun = !unfinished(workspace)?.is_empty();
    if !begun && !workspace.folder().join(CHANGED).exists() {
        return Ok(());
    }
    match Turn::free(workspace) {
        Ok(Some(turn)) => turn.give_back(),
        Err(error) if begun => return Err(error),
        // Whoever is at it now cleans up after herself.
        Ok(None) | Err(_) => {}
    }
    Ok(())
}

fn unfinished(workspace: &Workspace) -> Result<Vec<String>, AppError> {
    workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.unfinished_erasure()?))
}

/// Removes the files and exchanges the tables that are noted.
fn files_and_tables(workspace: &Workspace, steps: &[String]) -> Result<(), AppError> {
    let mut folders = BTreeSet::new();
    for step in steps {
        let path = if let Some(path) = step.strip_prefix(REMOVE) {
            let path = workspace.folder().join(path);
            files::remove(&path)?;
            path
        } else if let Some((fresh, path)) = replaced(step) {
            let path = workspace.folder().join(path);
            files::take_the_place(&workspace.folder().join(fresh), &path)?;
            path
        } else {
            continue;
        };
        folders.extend(path.parent().map(Path::to_owned));
    }
    for folder in &folders {
        files::settle_folder(folder);
        if !workspace.audio_folders().contains(folder) {
            // A folder that still holds something stays.
            let _ = std::fs::remove_dir(folder);
        }
    }
    Ok(())
}

fn replaced(step: &str) -> Option<(&str, &str)> {
    step.strip_prefix(REPLACE)?.split_once(BY)
}

fn note(workspace: &Workspace, steps: Vec<String>) -> Result<(), AppError> {
    workspace.store().write(move |writing| {
        writing.set_unfinished_erasure(&steps)?;
        Ok::<_, AppError>(())
    })
}

/// Removes sound that no word of the study names: what an import that was killed left behind. On the
/// writer, so that no import puts files there meanwhile.
fn remove_strays(workspace: &Workspace) -> Result<(), AppError> {
    let own = workspace.clone();
    workspace.store().write(move |writing| {
        let mut known = BTreeSet::new();
        for token in writing.tokens()? {
            known.insert(own.original(&token.original_sha256));
            known.insert(own.prepared(&token.prepared.sha256));
        }
        for folder in own.audio_folders() {
            for name in files::names_in(&folder)? {
                let path = folder.join(name);
                if !known.contains(&path) {
                    files::remove(&path)?;
                }
            }
        }
        Ok(())
    })
}
