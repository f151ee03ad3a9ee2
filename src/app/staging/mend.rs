//! Mending a staged manifest, a row at a time.

use std::collections::BTreeMap;

use super::folder::Folder;
use super::folder::StagingId;
use crate::app::AppError;
use crate::app::Workspace;
use crate::exchange;

/// What is done to the rows of a manifest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mend {
    /// Columns of a row get other values.
    Change {
        /// The row's line, the header being line 1.
        line: u64,
        /// The values, by their columns.
        values: BTreeMap<String, String>,
    },
    /// A row is left out with its recording; for a scored word it stays and counts as missing.
    LeaveOut {
        /// The row's line.
        line: u64,
        /// Why: no response, wrong word, …
        reason: String,
    },
    /// A row goes altogether, as if it had never been written.
    Remove {
        /// The row's line.
        line: u64,
    },
    /// A further row, with a recording or without.
    Add {
        /// The values, by their columns.
        values: BTreeMap<String, String>,
    },
}

/// The header of a manifest that begins with an added row.
const FRESH: &[u8] = b"file,child,session,phase,word,attempt,use,answer,reason\n";

/// Mends the manifest of a staged import.
///
/// # Errors
/// [`AppError::Refused`] where there is no manifest or no such row, or a row is left out without a reason;
/// [`AppError::File`] if it cannot be written.
pub fn mend(workspace: &Workspace, id: &StagingId, mend: Mend) -> Result<(), AppError> {
    let folder = Folder::of(workspace, id)?;
    let there = folder.manifest()?;
    let (name, bytes) = match (there, &mend) {
        (Some(there), _) => there,
        (None, Mend::Add { .. }) => ("added by hand".to_owned(), FRESH.to_vec()),
        (None, _) => {
            return Err(AppError::refused(
                "there is no manifest to mend",
                "add one, or make it from the files' names",
            ));
        }
    };
    let mended = match mend {
        Mend::Change { line, values } => exchange::mend_row(&bytes, line, &values),
        Mend::LeaveOut { line, reason } => {
            if reason.trim().is_empty() {
                return Err(AppError::refused(
                    "a word is left out without a reason",
                    "say why: no response, wrong word, not recorded, …",
                ));
            }
            let values = [
                ("file".to_owned(), String::new()),
                ("reason".to_owned(), reason),
            ];
            exchange::mend_row(&bytes, line, &BTreeMap::from(values))
        }
        Mend::Remove { line } => exchange::remove_row(&bytes, line),
        Mend::Add { values } => Ok(exchange::add_row(&bytes, &values)),
    };
    folder.set_manifest(&name, &mended.map_err(AppError::Refused)?)
}
