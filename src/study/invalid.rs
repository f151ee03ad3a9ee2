//! A value that cannot be what it should be.

/// A value that was refused: what is wrong with it, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}; {mend}")]
pub struct Invalid {
    /// What is wrong, with the value where it cannot be somebody's name.
    pub what: String,
    /// What would be right.
    pub mend: String,
}

impl Invalid {
    /// A refusal in two half sentences.
    pub fn new(what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            mend: mend.into(),
        }
    }
}
