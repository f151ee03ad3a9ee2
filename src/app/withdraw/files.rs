//! Where a child is found in the study's folder beside the store: old exports, copies of her
//! recordings, tables that name her.

use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use aho_corasick::AhoCorasick;

use super::preview::Traces;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::files;
use crate::exchange;
use crate::seal::Digest;

/// What is to be done with the files of the study's folder.
#[derive(Debug, Clone, Default)]
pub(super) struct Found {
    /// Files of exports that hold something of her, and copies of her recordings.
    pub(super) removed: BTreeSet<PathBuf>,
    /// Tables from which her rows go.
    pub(super) changed: BTreeSet<PathBuf>,
    /// Files that name her and are no table: whoever wrote them must mend them.
    pub(super) left: BTreeSet<PathBuf>,
}

/// The note that lies in every export, and the table that explains its columns.
const NOTE: &str = "README.txt";
const DICTIONARY: &str = "data_dictionary.csv";

/// Looks through the study's folder; the paths are relative to it.
pub(super) fn found(workspace: &Workspace, traces: &Traces) -> Result<Found, AppError> {
    let search = Search::new(workspace, traces)?;
    let mut found = Found::default();
    search.look_into(Path::new(""), &mut found)?;
    Ok(found)
}

/// Paths as they are shown.
pub(super) fn shown(paths: &BTreeSet<PathBuf>) -> Vec<String> {
    paths
        .iter()
        .map(|path| path.display().to_string())
        .collect()
}

/// A path from the root, where the system can tell it.
pub(super) fn whole_path(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

/// What a file holds of her.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    None,
    /// One of her recordings, whatever it is called.
    Recording,
    /// Rows of a table.
    Table,
    /// Her code, her label or the name of a file of hers, somewhere.
    Named,
}

/// A child's traces, and her names in a form in which a file is read once for all of them.
struct Search<'a> {
    workspace: &'a Workspace,
    traces: &'a Traces,
    names: AhoCorasick,
}

impl<'a> Search<'a> {
    fn new(workspace: &'a Workspace, traces: &'a Traces) -> Result<Self, AppError> {
        let names = traces.names.iter().map(String::as_str);
        let names = std::iter::once(traces.code.as_str())
            .chain(traces.label.as_deref())
            .chain(names);
        Ok(Self {
            workspace,
            traces,
            names: AhoCorasick::new(names)
                .map_err(|error| AppError::Unreadable(error.to_string()))?,
        })
    }

    fn look_into(&self, folder: &Path, found: &mut Found) -> Result<(), AppError> {
        let workspace = self.workspace;
        let mut names = files::names_in(&workspace.folder().join(folder))?;
        if folder.as_os_str().is_empty() {
            names.retain(|name| !Workspace::is_its_own(name));
        }
        let (folders, plain): (Vec<_>, Vec<_>) = names
            .into_iter()
            .map(|name| folder.join(name))
            .partition(|path| workspace.folder().join(path).is_dir());
        let is_export = [NOTE, DICTIONARY]
            .iter()
            .all(|name| plain.contains(&folder.join(name)));
        let mut hers = is_export && self.is_of_her_rounds(folder)?;
        let mut marks = Vec::with_capacity(plain.len());
        for path in &plain {
            let bytes = files::read(&workspace.folder().join(path))?;
            let mark = self.mark_of(&bytes, path);
            hers |= is_export && mark != Mark::None;
            marks.push(mark);
        }
        for (path, mark) in plain.into_iter().zip(marks) {
            let list = match mark {
                _ if hers => &mut found.removed,
                Mark::Recording => &mut found.removed,
                Mark::Table => &mut found.changed,
                Mark::Named => &mut found.left,
                Mark::None => continue,
            };
            list.insert(path);
        }
        for folder in folders {
            self.look_into(&folder, found)?;
        }
        Ok(())
    }

    /// Whether an export is of a round in which she is heard; a shared one does not hold her code.
    fn is_of_her_rounds(&self, folder: &Path) -> Result<bool, AppError> {
        let note = files::read(&self.workspace.folder().join(folder).join(NOTE))?;
        Ok(self
            .traces
            .seals
            .iter()
            .any(|seal| holds(&note, seal.as_bytes())))
    }

    fn mark_of(&self, bytes: &[u8], path: &Path) -> Mark {
        let traces = self.traces;
        let sha256 = Digest::of(bytes).to_string();
        if traces.originals.contains(&sha256) || traces.prepared.contains(&sha256) {
            return Mark::Recording;
        }
        let is_table = path
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("csv"));
        let rest = is_table
            .then(|| exchange::without_rows(bytes, &|cell| is_her_cell(cell, traces)))
            .flatten();
        match rest {
            Some(rest) if self.names_her(&rest) => Mark::Named,
            Some(_) => Mark::Table,
            None if self.names_her(bytes) => Mark::Named,
            None => Mark::None,
        }
    }

    /// Whether one of her names stands there by itself: `C01` is not in `C012`.
    fn names_her(&self, bytes: &[u8]) -> bool {
        let in_a_word = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_alphanumeric);
        self.names.find_overlapping_iter(bytes).any(|here| {
            let before = here
                .start()
                .checked_sub(1)
                .and_then(|place| bytes.get(place));
            !in_a_word(before) && !in_a_word(bytes.get(here.end()))
        })
    }
}

/// Whether a cell of a table makes its row hers.
pub(super) fn is_her_cell(cell: &str, traces: &Traces) -> bool {
    cell == traces.code.as_str()
        || traces.names.contains(cell)
        || traces.label.as_deref() == Some(cell)
}

fn holds(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes
        .windows(wanted.len().max(1))
        .any(|here| here == wanted)
}
