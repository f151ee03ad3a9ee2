//! Change in the series of a file.

use std::path::PathBuf;

use super::AppError;
use super::inputs;
use super::outcome::assignment_in;
use super::outcome::refused;
use crate::analysis;
use crate::analysis::SeriesFinding;
use crate::exchange::read_series;

pub use crate::analysis::SeriesOptions;

/// Which direction is hoped for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hoped {
    /// A rise is an improvement.
    Higher,
    /// A fall is an improvement.
    Lower,
}

/// The files that a series is read from; `-` is standard input.
#[derive(Debug, Clone)]
pub struct SeriesFiles {
    /// The values.
    pub series: PathBuf,
    /// The assignment that was drawn.
    pub assignment: Option<PathBuf>,
}

/// Computes change in each case of a series, and the test of the assignment that was drawn.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where they do not fit each other.
pub fn series(
    files: &SeriesFiles,
    hoped: Hoped,
    options: SeriesOptions,
) -> Result<SeriesFinding, AppError> {
    let assignment = files.assignment.as_deref();
    inputs::one_standard_input(&[Some(&files.series), assignment])?;
    let series = inputs::read(&files.series, read_series)?;
    let options = SeriesOptions {
        assignment: assignment.map(assignment_in).transpose()?,
        better: match hoped {
            Hoped::Higher => analysis::Better::Higher,
            Hoped::Lower => analysis::Better::Lower,
        },
        ..options
    };
    analysis::series(&series, &options)
        .map_err(|refusal| refused(&files.series, refusal.what, refusal.mend))
}
