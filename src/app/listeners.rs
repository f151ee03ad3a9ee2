//! The listeners of a file: their signals, and whom the rules keep.

use std::path::Path;
use std::path::PathBuf;

use super::AppError;
use super::inputs;
use crate::analysis;
use crate::analysis::Listeners;
use crate::analysis::Rules;
use crate::exchange::read_answer_key;
use crate::exchange::read_rules;
use crate::study::Problem;

/// The files that listeners are judged by; `-` is standard input.
#[derive(Debug, Clone)]
pub struct ListenerFiles {
    /// The judgements, checks and repeats among them.
    pub ratings: PathBuf,
    /// The known answers of check items.
    pub key: Option<PathBuf>,
    /// The screening rules.
    pub rules: Option<PathBuf>,
}

/// Computes what is known of every listener in a file and applies the rules.
///
/// # Errors
/// [`AppError::Input`] with every problem of the files, or where the key or the rules do not fit the judgements.
pub fn listeners(
    files: &ListenerFiles,
    positive: Option<&str>,
    confidence: f64,
) -> Result<Listeners, AppError> {
    let (key, rules) = (files.key.as_deref(), files.rules.as_deref());
    inputs::one_standard_input(&[Some(&files.ratings), key, rules])?;
    let key = key
        .map(|path| inputs::read(path, read_answer_key))
        .transpose()?;
    let rules = rules.map_or_else(|| Ok(Rules::default()), rules_of)?;
    let ratings = inputs::ratings(&files.ratings, None)?;
    let found = analysis::listeners(&ratings, key.as_ref(), &rules, positive, confidence);
    found.map_err(|refusal| {
        Problem::new(
            files.ratings.display().to_string(),
            refusal.what,
            refusal.mend,
        )
        .into()
    })
}

fn rules_of(path: &Path) -> Result<Rules, AppError> {
    let rules: Rules = inputs::read(path, read_rules)?;
    rules
        .check()
        .map_err(|error| Problem::new(path.display().to_string(), error.what, error.mend))?;
    Ok(rules)
}
