//! Why an act could not be done.

use crate::store::StoreError;
use crate::study::Invalid;
use crate::study::Problem;
use crate::study::Problems;

/// Why an act could not be done: the input's fault or ours.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AppError {
    /// The input or the arguments are wrong; each problem says where and how to mend it.
    #[error("{0}")]
    Input(#[from] Problems),
    /// The act is not possible as things stand; nothing was done.
    #[error("{0}")]
    Refused(Invalid),
    /// A file could not be read or written.
    #[error("{what} {path}: {source}{}", mend(source))]
    File {
        /// What was tried, as the beginning of a sentence: "cannot read".
        what: &'static str,
        /// The file or folder.
        path: String,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// The store could not do its part.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The study was looked at, and is not as it was written.
    #[error("{0} things in this study are not as they were written")]
    Altered(usize),
    /// What we wrote ourselves cannot be read back.
    #[error("what the study holds cannot be read ({0}); run `fairhearing verify`")]
    Unreadable(String),
}

/// What to do about it, where that is clear.
fn mend(error: &std::io::Error) -> &'static str {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            "; nothing was left half-done: free some space, then try again"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "; ask whoever keeps this machine for the right to it, or choose another place"
        }
        _ => "",
    }
}

impl AppError {
    /// A refusal in two half sentences: what stands in the way, and what would help.
    pub fn refused(what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self::Refused(Invalid::new(what, mend))
    }

    /// Whether whoever asked can mend it by asking for something else.
    pub const fn is_the_askers(&self) -> bool {
        matches!(self, Self::Input(_) | Self::Refused(_))
    }
}

impl From<Problem> for AppError {
    fn from(problem: Problem) -> Self {
        Self::Input(problem.into())
    }
}
