//! Why the store could not do what was asked.

/// Why the store could not do what was asked. Nothing is half-written: every write is one
/// transaction.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The file belongs to a newer program; it was left unharmed.
    #[error(
        "the study was last used by a newer Fair Hearing (its store is version {found}, this program knows {known}); update the program, nothing was changed"
    )]
    Newer {
        /// The version in the file.
        found: i64,
        /// The newest that this program knows.
        known: i64,
    },
    /// The engine did not take a setting that durability rests on.
    #[error(
        "the store cannot be kept safe here: `{pragma}` reads back as `{found}`, not `{wanted}`; put the study on a local disk"
    )]
    NotDurable {
        /// The setting.
        pragma: &'static str,
        /// What it reads back as.
        found: String,
        /// What it must be.
        wanted: &'static str,
    },
    /// Whoever runs the program may not write here.
    #[error(
        "the study's store may not be written here ({0}); run this as somebody who may write in the study's folder, or copy the study to where you may"
    )]
    ReadOnly(String),
    /// The disk is full, or the file is locked.
    #[error(
        "the store cannot be written now ({0}); free some space or close what holds it, then try again"
    )]
    Unwritable(String),
    /// A row holds what the program could not have written.
    #[error("a row of `{table}` holds what cannot be there: {what}")]
    Unreadable {
        /// The table.
        table: &'static str,
        /// What is wrong.
        what: String,
    },
    /// The writer has stopped.
    #[error("the store is closing; what was asked was not written")]
    Closing,
    /// Anything else that the engine says.
    #[error("the store failed: {0}")]
    Engine(String),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        match error.sqlite_error_code() {
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                Self::ReadOnly(error.to_string())
            }
            Some(
                ErrorCode::DiskFull
                | ErrorCode::DatabaseBusy
                | ErrorCode::DatabaseLocked
                | ErrorCode::SystemIoFailure,
            ) => Self::Unwritable(error.to_string()),
            _ => Self::Engine(error.to_string()),
        }
    }
}
