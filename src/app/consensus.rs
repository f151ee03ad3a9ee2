//! What the raters of a file say of each item.

use std::path::Path;

use super::AppError;
use super::inputs;
use crate::analysis;
use crate::analysis::Consensus;
use crate::study::Problem;

pub use crate::analysis::ConsensusOptions;

/// Computes the consensus of the main judgements in a file; with a panel, of the listeners whom it keeps.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where it is not clear which value is positive.
pub fn consensus(
    ratings: &Path,
    panel: Option<&Path>,
    options: &ConsensusOptions,
) -> Result<Consensus, AppError> {
    inputs::one_standard_input(&[Some(ratings), panel])?;
    let read = inputs::ratings(ratings, panel)?;
    analysis::consensus(&read, options).map_err(|refusal| {
        Problem::new(ratings.display().to_string(), refusal.what, refusal.mend).into()
    })
}
