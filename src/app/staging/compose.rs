//! A manifest made from the files' names, looked at before it is kept.

use std::collections::BTreeMap;

use super::folder::Folder;
use super::folder::StagingId;
use super::look;
use super::look::StagedRow;
use crate::app::AppError;
use crate::app::Workspace;
use crate::exchange;
use crate::exchange::Beside;
use crate::exchange::NamePattern;
use crate::study::ChildCode;
use crate::study::Cohort;
use crate::study::Problem;

/// What the names are read by.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Composing {
    /// The pattern, such as `{child}_{session}_{phase}_{word}_{attempt}`.
    pub pattern: String,
    /// Each child's way of treating, a line a child: `C01: fixed cue`.
    pub cohorts: String,
}

/// What the names give.
#[derive(Debug, Clone, PartialEq)]
pub struct Composed {
    /// What each file becomes.
    pub rows: Vec<StagedRow>,
    /// Files that do not fit the pattern.
    pub strange: Vec<String>,
    /// What is wrong with the rows.
    pub problems: Vec<Problem>,
}

/// What every file would become; nothing is kept.
///
/// # Errors
/// [`AppError::Refused`] for a pattern or a list of cohorts that cannot be read.
pub fn preview(
    workspace: &Workspace,
    id: &StagingId,
    composing: &Composing,
) -> Result<Composed, AppError> {
    let folder = Folder::of(workspace, id)?;
    let (manifest, strange) = composed(workspace, &folder, composing)?;
    let settings = workspace.settings()?;
    let recordings = folder.recordings()?;
    let read = look::read(NAMES, &manifest, &settings, &recordings);
    Ok(Composed {
        rows: read.rows,
        problems: read.problems,
        strange,
    })
}

/// Makes the manifest of the names that fit; the files that do not are in no row then.
///
/// # Errors
/// As [`preview`].
pub fn compose(
    workspace: &Workspace,
    id: &StagingId,
    composing: &Composing,
) -> Result<(), AppError> {
    let folder = Folder::of(workspace, id)?;
    let (manifest, _) = composed(workspace, &folder, composing)?;
    folder.set_manifest(NAMES, &manifest)
}

/// What problems call a manifest that was made of names.
const NAMES: &str = "names";

fn composed(
    workspace: &Workspace,
    folder: &Folder,
    composing: &Composing,
) -> Result<(Vec<u8>, Vec<String>), AppError> {
    let pattern: NamePattern = composing.pattern.parse().map_err(AppError::Refused)?;
    let settings = workspace.settings()?;
    let beside = Beside {
        cohorts: cohorts(&composing.cohorts)?,
        ..Beside::of(&settings)
    };
    let names = folder.recordings()?.names();
    let (fitting, strange): (Vec<String>, Vec<String>) = names
        .into_iter()
        .partition(|name| pattern.read(name).is_some());
    let (manifest, _) = exchange::compose_manifest(NAMES, &pattern, &fitting, &beside, &settings);
    Ok((manifest, strange))
}

fn cohorts(text: &str) -> Result<BTreeMap<ChildCode, Cohort>, AppError> {
    let lines = text.lines().filter(|line| !line.trim().is_empty());
    lines
        .map(|line| {
            let (child, cohort) = line.split_once(':').ok_or_else(|| {
                AppError::refused(
                    format!("`{line}` tells no child's way of treating"),
                    "write a line a child, like C01: fixed cue",
                )
            })?;
            let child = ChildCode::new(child).map_err(AppError::Refused)?;
            Ok((child, Cohort::new(cohort).map_err(AppError::Refused)?))
        })
        .collect()
}
