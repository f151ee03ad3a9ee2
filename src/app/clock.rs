//! The clock, read once at the edge of an act.

/// A moment, in milliseconds since 1970-01-01 UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Now(i64);

impl Now {
    /// What the machine's clock shows.
    pub fn read() -> Self {
        Self(jiff::Timestamp::now().as_millisecond())
    }

    /// A moment that was noted before, or that a test makes up.
    pub const fn at_ms(ms: i64) -> Self {
        Self(ms)
    }

    /// Milliseconds since 1970-01-01 UTC.
    pub const fn ms(self) -> i64 {
        self.0
    }
}
