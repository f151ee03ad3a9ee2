//! A child among many, in two lines: what changed, and what would settle it.

use super::lines;
use super::sentence;
use super::sheet;
use super::told::Told;
use crate::analysis::RoundFindings;

/// What a list of children says of one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Brief {
    /// What is known of a change.
    pub standing: Standing,
    /// The verdict in words.
    pub headline: &'static str,
    /// What changed, in one sentence.
    pub sentence: String,
    /// What would settle it, where it is not settled.
    pub settles: Option<String>,
}

/// Where a child stands: the parts of a caseload.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It changed, for better or worse.
    Changed,
    /// It cannot be told.
    CannotTell,
    /// No change that matters.
    Unchanged,
}

impl Brief {
    /// Of a change.
    fn of(told: &Told) -> Self {
        Self {
            standing: match told.verdict {
                "improved" | "declined" => Standing::Changed,
                "no_relevant_change" => Standing::Unchanged,
                _ => Standing::CannotTell,
            },
            headline: sentence::headline(told),
            sentence: sentence::what_changed(told),
            settles: lines::what_would_settle_it(told),
        }
    }
}

/// The two lines of a child; nothing where no session of hers was heard.
pub fn brief(found: &RoundFindings, child: &str) -> Option<Brief> {
    if let Some(told) = sheet::told_of(found, child) {
        return Some(Brief::of(&told));
    }
    let sheet = sheet::child_sheet(found, child)?;
    Some(Brief {
        standing: Standing::CannotTell,
        headline: sheet.headline,
        sentence: sheet.sentence,
        settles: None,
    })
}
