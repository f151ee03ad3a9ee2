//! What was erased on purpose: rows that the log tells of and that are rightly not there.
//!
//! The list holds random names and digests alone. The log holds a digest of the whole list from each
//! erasure on, so that it cannot grow without an event; what it names is told by nothing.

use std::collections::BTreeSet;

use super::Findings;
use super::story::Story;
use crate::seal::Digest;
use crate::store::Reading;

/// The items of the list.
pub(super) struct Gone(BTreeSet<String>);

/// A presentation.
pub(in crate::app) fn place(id: &str) -> String {
    format!("presentation {id}")
}

/// A token of a round, by its sealed number.
pub(in crate::app) fn token(round: &str, number: u64) -> String {
    format!("token {number} of {round}")
}

/// A row that staff noted, by its digest in the log.
pub(in crate::app) fn noted(digest: &str) -> String {
    format!("noted {digest}")
}

/// A listener with her sittings.
pub(in crate::app) fn listener(code: &str) -> String {
    format!("listener {code}")
}

/// A bar that was made after the seal, by its commitment in the log.
pub(in crate::app) fn bar(listener: &str, commitment: &str) -> String {
    format!("bar {listener} {commitment}")
}

/// A child of an assignment, by its sealed number.
pub(in crate::app) fn assigned(assignment: u64, number: u64) -> String {
    format!("child {number} of assignment {assignment}")
}

/// Who withdrew, by the commitment in the log.
pub(in crate::app) fn withdrawal(who: &str) -> String {
    format!("withdrawal {who}")
}

/// How many tokens and rows without a recording the erasure of that number took.
pub(in crate::app) fn counts(erasure: usize, tokens: usize, missing: usize) -> String {
    format!("{COUNTS} {erasure}: {tokens} {missing}")
}

const COUNTS: &str = "erasure";

/// How many children were erased so far.
pub(in crate::app) fn erasures(items: &[String]) -> usize {
    items.iter().filter(|item| item.starts_with(COUNTS)).count()
}

/// What the log says of the list: its items in order, one a line.
pub(in crate::app) fn digest(items: &[String]) -> Digest {
    let mut lines = "fairhearing gone 1\n".to_owned();
    for item in items {
        lines.push_str(item);
        lines.push('\n');
    }
    Digest::of(lines.as_bytes())
}

impl Gone {
    pub(super) fn read(reading: &Reading<'_>, story: &Story, findings: &mut Findings) -> Self {
        let items = findings.read(reading.gone());
        let told = match &story.erased {
            Some(told) => digest(&items).to_string() == *told,
            None => items.is_empty(),
        };
        if !told {
            findings.say("the list of what was erased is not the one that the log tells");
        }
        Self(items.into_iter().collect())
    }

    pub(super) fn holds(&self, item: &str) -> bool {
        self.0.contains(item)
    }

    /// Tokens and rows without a recording that were erased.
    pub(super) fn counts(&self) -> (u64, u64) {
        let rows = self.0.iter().filter_map(|item| {
            let (_, counts) = item.strip_prefix(COUNTS)?.split_once(": ")?;
            let (tokens, missing) = counts.split_once(' ')?;
            Some((tokens.parse::<u64>().ok()?, missing.parse::<u64>().ok()?))
        });
        rows.fold((0, 0), |sum, row| (sum.0 + row.0, sum.1 + row.1))
    }
}
