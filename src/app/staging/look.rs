//! What is staged: the files, what each row becomes, and all that can be told to be wrong before anything is decoded.

use std::collections::BTreeSet;

use super::folder::Folder;
use super::folder::StagingId;
use crate::app::AppError;
use crate::app::Workspace;
use crate::app::import::Named;
use crate::app::import::Recordings;
use crate::exchange;
use crate::exchange::ManifestSheet;
use crate::exchange::SheetRow;
use crate::study::Problem;
use crate::study::StudySettings;

/// What is staged.
#[derive(Debug, Clone, PartialEq)]
pub struct Staged {
    /// The files that came, in alphabetical order.
    pub files: Vec<StagedFile>,
    /// What the manifest is called, once there is one.
    pub manifest: Option<String>,
    /// Its columns.
    pub columns: Vec<String>,
    /// Its rows.
    pub rows: Vec<StagedRow>,
    /// What is wrong with it, as far as it shows without decoding a recording.
    pub problems: Vec<Problem>,
    /// Whole files that no row names.
    pub unnamed: Vec<String>,
}

/// A file that came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StagedFile {
    /// What it is called.
    pub name: String,
    /// How many bytes are here.
    pub bytes: u64,
    /// Whether that is all of it.
    pub whole: bool,
}

/// A row of a staged manifest, as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StagedRow {
    /// Its line, the header being line 1.
    pub line: u64,
    /// The recording.
    pub file: String,
    /// The child's code.
    pub child: String,
    /// The session's number.
    pub session: String,
    /// The phase.
    pub phase: String,
    /// The word.
    pub word: String,
    /// Which try it was.
    pub attempt: String,
    /// What it is for.
    pub use_: String,
    /// Why nothing was recorded.
    pub reason: String,
    /// The name under which its recording came, where it is here.
    pub stored_as: Option<String>,
    /// All its cells, in the order of the columns.
    pub cells: Vec<String>,
    /// What is known of it.
    pub found: Found,
}

/// What is known of a row before its recording is decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// Its recording is here.
    Recording,
    /// It has none and says why: it counts as missing.
    Missing,
    /// Something is wrong with it.
    Wrong,
}

impl Staged {
    /// How many rows are of a kind.
    pub fn count(&self, found: Found) -> usize {
        self.rows.iter().filter(|row| row.found == found).count()
    }

    /// Files that came in part only.
    pub fn coming(&self) -> impl Iterator<Item = &StagedFile> {
        self.files.iter().filter(|file| !file.whole)
    }
}

/// Looks at what is staged.
///
/// # Errors
/// [`AppError::Refused`] if it is not there any more; [`AppError::File`] if it cannot be read.
pub fn look(workspace: &Workspace, id: &StagingId) -> Result<Staged, AppError> {
    let folder = Folder::of(workspace, id)?;
    let names = folder.names()?;
    let files = names.iter().map(|name| {
        let (whole, part) = folder.sizes(name);
        StagedFile {
            name: name.as_str().to_owned(),
            bytes: part.or(whole).unwrap_or(0),
            whole: part.is_none() && whole.is_some(),
        }
    });
    let files = files.collect();
    let recordings = folder.recordings()?;
    let Some((name, manifest)) = folder.manifest()? else {
        return Ok(Staged {
            files,
            manifest: None,
            columns: Vec::new(),
            rows: Vec::new(),
            problems: Vec::new(),
            unnamed: recordings.names(),
        });
    };
    let read = read(&name, &manifest, &workspace.settings()?, &recordings);
    Ok(Staged {
        files,
        manifest: Some(name),
        columns: read.columns,
        rows: read.rows,
        problems: read.problems,
        unnamed: read.unnamed,
    })
}

/// A manifest beside the files that are here.
pub(super) struct Read {
    pub(super) columns: Vec<String>,
    pub(super) rows: Vec<StagedRow>,
    pub(super) problems: Vec<Problem>,
    pub(super) unnamed: Vec<String>,
}

pub(super) fn read(
    name: &str,
    manifest: &[u8],
    settings: &StudySettings,
    recordings: &Named,
) -> Read {
    let sheet = ManifestSheet::of(manifest);
    let mut problems: Vec<Problem> = match exchange::read_manifest(name, manifest, settings) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().cloned().collect(),
    };
    let mut named = BTreeSet::new();
    for row in &sheet.rows {
        let file = sheet.cell(row, "file");
        let meant = recordings.meant(file);
        named.extend(meant.iter().map(|(name, _)| name.clone()));
        if !file.is_empty() && meant.len() != 1 {
            problems.extend(not_found(name, row.line, file, recordings));
        }
    }
    problems.sort_by_key(Problem::line);
    let wrong: BTreeSet<u64> = problems.iter().filter_map(Problem::line).collect();
    let rows = sheet
        .rows
        .iter()
        .map(|row| row_of(&sheet, row, &wrong, recordings));
    let mut unnamed = recordings.names();
    unnamed.retain(|name| !named.contains(name));
    Read {
        rows: rows.collect(),
        unnamed,
        columns: sheet.header,
        problems,
    }
}

fn not_found(manifest: &str, line: u64, file: &str, recordings: &Named) -> Option<Problem> {
    let refusal = recordings.bytes(file).err()?;
    let problem = Problem::new(manifest, refusal.what, refusal.mend);
    Some(problem.at_line(line).in_column("file"))
}

fn row_of(
    sheet: &ManifestSheet,
    row: &SheetRow,
    wrong: &BTreeSet<u64>,
    recordings: &Named,
) -> StagedRow {
    let cell = |column| sheet.cell(row, column).to_owned();
    let found = if wrong.contains(&row.line) {
        Found::Wrong
    } else if cell("file").is_empty() {
        Found::Missing
    } else {
        Found::Recording
    };
    let stored_as = match recordings.meant(&cell("file")).as_slice() {
        [(name, _)] => Some(name.clone()),
        _ => None,
    };
    StagedRow {
        line: row.line,
        stored_as,
        file: cell("file"),
        child: cell("child"),
        session: cell("session"),
        phase: cell("phase"),
        word: cell("word"),
        attempt: cell("attempt"),
        use_: cell("use"),
        reason: cell("reason"),
        cells: row.cells.clone(),
        found,
    }
}
