//! The outcome of the judgements of a file.

use std::path::Path;
use std::path::PathBuf;

use super::AppError;
use super::inputs;
use crate::analysis;
use crate::analysis::Outcome;
use crate::exchange::read_assignment;
use crate::exchange::read_panel;
use crate::exchange::read_ratings;
use crate::study::Assignment;
use crate::study::Problem;

pub use crate::analysis::OutcomeOptions;

/// The files that an outcome is computed from; `-` is standard input.
#[derive(Debug, Clone)]
pub struct OutcomeFiles {
    /// The judgements.
    pub ratings: PathBuf,
    /// What is known of tokens.
    pub tokens: PathBuf,
    /// Who was kept, and with which weight.
    pub panel: Option<PathBuf>,
    /// The assignment that was drawn.
    pub assignment: Option<AssignmentSource>,
}

/// Where the assignment stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AssignmentSource {
    /// Children were assigned to cohorts at random, all together.
    Random,
    /// In a file.
    File(PathBuf),
}

/// Computes sessions, changes, verdicts and cohorts of the main judgements in a file.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where they do not fit each other.
pub fn outcome(files: &OutcomeFiles, options: OutcomeOptions) -> Result<Outcome, AppError> {
    let from_file = match &files.assignment {
        Some(AssignmentSource::File(path)) => Some(path.as_path()),
        _ => None,
    };
    let panel = files.panel.as_deref();
    inputs::one_standard_input(&[Some(&files.ratings), Some(&files.tokens), panel, from_file])?;
    let ratings = inputs::read(&files.ratings, read_ratings)?;
    let tokens = inputs::tokens(&files.tokens)?;
    let panel = panel.map(|path| inputs::read(path, read_panel)).transpose()?;
    let options = OutcomeOptions {
        assignment: files.assignment.as_ref().map(assignment).transpose()?,
        ..options
    };
    analysis::outcome(&ratings, &tokens, panel.as_ref(), &options)
        .map_err(|refusal| refused(&files.ratings, refusal.what, refusal.mend))
}

fn assignment(source: &AssignmentSource) -> Result<Assignment, AppError> {
    match source {
        AssignmentSource::Random => Ok(Assignment::random()),
        AssignmentSource::File(path) => assignment_in(path),
    }
}

/// The assignment in a file.
pub(super) fn assignment_in(path: &Path) -> Result<Assignment, AppError> {
    inputs::read(path, read_assignment)
}

/// A refusal of what was read from a file, as a problem of it.
pub(super) fn refused(path: &Path, what: String, mend: String) -> AppError {
    Problem::new(path.display().to_string(), what, mend).into()
}
