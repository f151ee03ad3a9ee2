//! What can be drawn before treatment, and what each is for.

/// A design.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum DesignKind {
    Cohorts,
    StartPoints,
    Alternating,
    WordSets,
}

impl DesignKind {
    pub(super) const ALL: &[Self] = &[
        Self::Cohorts,
        Self::StartPoints,
        Self::Alternating,
        Self::WordSets,
    ];

    pub(super) fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|kind| kind.name() == name).copied()
    }

    /// Its name in addresses.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Cohorts => "cohorts",
            Self::StartPoints => "start-points",
            Self::Alternating => "alternating",
            Self::WordSets => "word-sets",
        }
    }

    /// What is drawn, in a few words.
    pub(super) const fn title(self) -> &'static str {
        match self {
            Self::Cohorts => "Who is treated in which way",
            Self::StartPoints => "When treatment begins",
            Self::Alternating => "Which condition each session has",
            Self::WordSets => "Which words are treated in which way",
        }
    }

    /// When it is the right one.
    pub(super) const fn purpose(self) -> &'static str {
        match self {
            Self::Cohorts => {
                "Parallel cohorts: each child is treated in one way from beginning to end. Six children in two cohorts can fall out \
                 in 20 ways, so that p can just reach .05."
            }
            Self::StartPoints => {
                "Staggered starts: every child, or every set of words, is treated, and chance decides from which session on. For \
                 three children and more."
            }
            Self::Alternating => {
                "Two ways of treating take turns within each child, session by session. For a sound that answers quickly and \
                 returns quickly."
            }
            Self::WordSets => {
                "Two ways of treating run side by side within each child, each carried by words of its own."
            }
        }
    }
}
