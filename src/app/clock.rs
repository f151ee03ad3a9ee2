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

impl std::fmt::Display for Now {
    /// The minute in UTC: "2026-03-09 14:05 UTC".
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let at = jiff::Timestamp::from_millisecond(self.0).unwrap_or_default();
        write!(f, "{}", at.strftime("%Y-%m-%d %H:%M UTC"))
    }
}
