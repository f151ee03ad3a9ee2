//! Agreement of the raters of a file.

use std::path::PathBuf;

use super::AppError;
use super::inputs;
use crate::analysis;
use crate::analysis::Agreement;
use crate::study::Problem;

pub use crate::analysis::AgreementOptions;
pub use crate::analysis::ScaleKind;

/// The files that agreement is computed from; `-` is standard input.
#[derive(Debug, Clone)]
pub struct AgreementFiles {
    /// The judgements.
    pub ratings: PathBuf,
    /// What is known of tokens, for agreement by phase and by child.
    pub tokens: Option<PathBuf>,
    /// Who was kept.
    pub panel: Option<PathBuf>,
}

/// Computes agreement of the main judgements in a file.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where the values do not fit the scale.
pub fn agreement(
    files: &AgreementFiles,
    options: &AgreementOptions,
) -> Result<Agreement, AppError> {
    let (tokens, panel) = (files.tokens.as_deref(), files.panel.as_deref());
    inputs::one_standard_input(&[Some(&files.ratings), tokens, panel])?;
    let ratings = inputs::ratings(&files.ratings, panel)?;
    let tokens = tokens.map(inputs::tokens).transpose()?;
    let found = analysis::agreement(&ratings, tokens.as_ref(), options);
    found.map_err(|refusal| {
        Problem::new(
            files.ratings.display().to_string(),
            refusal.what,
            refusal.mend,
        )
        .into()
    })
}
