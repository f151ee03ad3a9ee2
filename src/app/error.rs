//! Why an act could not be done.

use crate::study::Problems;

/// Why an act could not be done: the input's fault or ours.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AppError {
    /// The input or the arguments are wrong; each problem says where and how to mend it.
    #[error("{0}")]
    Input(#[from] Problems),
    /// A file could not be read or written.
    #[error("{what} {path}: {source}")]
    File {
        /// What was tried, as the beginning of a sentence: "cannot read".
        what: &'static str,
        /// The file or folder.
        path: String,
        /// What the operating system said.
        source: std::io::Error,
    },
}
