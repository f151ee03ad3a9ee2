//! What is wrong with an input: one sentence with its place and the mend.

use std::fmt;

/// One thing that is wrong with an input, where it stands, and how to mend it.
///
/// Printed as `file:line:column: what; mend`, each part that is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    file: String,
    line: Option<u64>,
    column: Option<String>,
    what: String,
    mend: String,
}

impl Problem {
    /// A problem with a whole file (or with standard input, named `-`).
    pub fn new(file: impl Into<String>, what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            line: None,
            column: None,
            what: what.into(),
            mend: mend.into(),
        }
    }

    /// What is wrong and how to mend it, for a reader who knows where.
    pub fn sentence(&self) -> String {
        format!("{}; {}", self.what, self.mend)
    }

    /// The same problem at a line, counted from 1 with the header row as line 1.
    #[must_use]
    pub fn at_line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    /// The same problem in a column, called by its name.
    #[must_use]
    pub fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }

    /// The file.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The line, counted from 1 with the header row as line 1.
    pub const fn line(&self) -> Option<u64> {
        self.line
    }

    /// The column's name.
    pub fn column(&self) -> Option<&str> {
        self.column.as_deref()
    }

    /// What is wrong.
    pub fn what(&self) -> &str {
        &self.what
    }

    /// How to mend it.
    pub fn mend(&self) -> &str {
        &self.mend
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ":{column}")?;
        }
        write!(f, ": {}; {}", self.what, self.mend)
    }
}

/// All that is wrong with an input, listed at once. Never empty when it is returned as an error.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Problems(Vec<Problem>);

impl Problems {
    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        self.0.push(problem);
    }

    /// Adds all of another list.
    pub fn extend(&mut self, others: Self) {
        self.0.extend(others.0);
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The problems in the order in which they were found.
    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.0.iter()
    }

    /// `value` if nothing is wrong.
    ///
    /// # Errors
    /// The list itself, if it holds any problem.
    pub fn or<T>(self, value: T) -> Result<T, Self> {
        if self.0.is_empty() {
            Ok(value)
        } else {
            Err(self)
        }
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}
