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
    #[error("{what} {path}: {}", in_plain_words(source))]
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

/// What the operating system said, and what to do about it where that is clear.
pub(super) fn in_plain_words(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            format!("{error}; nothing was left half-done: free some space, then try again")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => format!(
            "{error}; ask whoever keeps this machine for the right to it, or choose another place"
        ),
        ErrorKind::AddrInUse => {
            "another program listens there already, perhaps this study's own server; end it, \
             or choose another port with --listen, such as 127.0.0.1:0"
                .to_owned()
        }
        ErrorKind::AddrNotAvailable => {
            "this machine has no such address; leave --listen out, or name one that it has"
                .to_owned()
        }
        // What has no number is said by a library, in words of its own.
        _ if error.raw_os_error().is_none() => error.to_string(),
        ErrorKind::NotFound => "it is not there; check how it is written".to_owned(),
        ErrorKind::NotADirectory => {
            "a file stands where a folder should be; choose another place".to_owned()
        }
        ErrorKind::IsADirectory => "it is a folder; name a file".to_owned(),
        _ => error.to_string(),
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
