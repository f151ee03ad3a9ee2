//! What a chart shows. Shares are of 1.

/// One child over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Graph {
    /// The child's code.
    pub child: String,
    /// What stands beside the code, such as the child's cohort.
    pub beside: Option<String>,
    /// The child's sessions in their order.
    pub sessions: Vec<Session>,
    /// One series, or several over the same sessions.
    pub series: Vec<Series>,
    /// Means over several sessions.
    pub levels: Vec<Level>,
}

/// A recording occasion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// Its number, counted from 1; a number left out is a missing session.
    pub number: u32,
    /// Its phase.
    pub phase: String,
    /// Days since the first recording of the study, where the date is known.
    pub day: Option<u32>,
}

/// Points that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What they are: "treated words".
    pub label: String,
    /// How they are drawn.
    pub symbol: Symbol,
    /// One for each session, nothing where it could not be measured.
    pub marks: Vec<Option<Mark>>,
    /// For each session whether it belongs to another series: the path goes on over it. Empty: none does.
    pub of_others: Vec<bool>,
}

/// The shape of a series' points; its path differs too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Symbol {
    /// A filled circle on an unbroken path.
    Disc,
    /// An open square on a dotted path.
    Square,
}

impl Symbol {
    /// The shape as a sign in a line of text.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Disc => "●",
            Self::Square => "□",
        }
    }
}

/// One point.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The share heard as correct.
    pub share: f64,
    /// Its interval.
    pub ci: Option<[f64; 2]>,
    /// The point in words, for whoever points at it or has it read out.
    pub said: String,
}

/// A mean over sessions, drawn as a thin line across them.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// The phase whose sessions they are.
    pub phase: String,
    /// The first session that counts.
    pub first: u32,
    /// The last session that counts.
    pub last: u32,
    /// The mean.
    pub share: f64,
    /// Its label, under the phase's name: "mean 61%".
    pub said: String,
}

/// Where the peers lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// Its label.
    pub label: String,
}
