//! Precision of the judgements of a file.

use std::path::PathBuf;

use super::AppError;
use super::inputs;
use super::outcome::refused;
use crate::analysis;
use crate::analysis::Precision;

pub use crate::analysis::PrecisionOptions;

/// The files that precision is computed from; `-` is standard input.
#[derive(Debug, Clone)]
pub struct PrecisionFiles {
    /// The judgements.
    pub ratings: PathBuf,
    /// What is known of tokens.
    pub tokens: PathBuf,
    /// Who was kept.
    pub panel: Option<PathBuf>,
}

/// Computes variance components and the forecast from the main judgements in a file.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where they do not fit each other.
pub fn precision(
    files: &PrecisionFiles,
    options: &PrecisionOptions,
) -> Result<Precision, AppError> {
    let panel = files.panel.as_deref();
    inputs::one_standard_input(&[Some(&files.ratings), Some(&files.tokens), panel])?;
    let ratings = inputs::ratings(&files.ratings, panel)?;
    let tokens = inputs::tokens(&files.tokens)?;
    analysis::precision(&ratings, &tokens, options)
        .map_err(|refusal| refused(&files.ratings, refusal.what, refusal.mend))
}
