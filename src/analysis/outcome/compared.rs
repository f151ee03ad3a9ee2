//! A child's change over several rounds on one scale: its limits, its verdict, what would settle it.

use super::changes::word;
use super::rounds_finding::PlacedChangeFinding;
use super::sentence;
use super::sentence::Said;
use super::settle::Seen;
use super::settle::Settling;
use crate::stats::interval::Design;
use crate::stats::interval::Placed;
use crate::stats::interval::PlacedChange;
use crate::stats::interval::Reading;
use crate::stats::verdict::Verdict;
use crate::stats::verdict::verdict;
use crate::study::record::RoundRecord;

/// Two sets of a child's sessions on the one scale.
pub(super) struct Compared<'a> {
    pub(super) child: &'a str,
    pub(super) placed: &'a Placed,
    /// The earlier sessions, by their places on the scale.
    pub(super) from: &'a [usize],
    /// The later ones.
    pub(super) to: &'a [usize],
    pub(super) reading: Reading,
    /// The design by which the change was seen.
    pub(super) design: Design,
}

impl Compared<'_> {
    /// The change, as the plan of the last round reads it; nothing where it has no limits.
    pub(super) fn finding(&self, last: &RoundRecord) -> Option<PlacedChangeFinding> {
        let level = last.plan.analysis.confidence.level();
        let (from, to, reading) = (self.from, self.to, self.reading);
        let change = self.placed.change(from, to, reading, level).ok()?;
        let contrast = &last.plan.contrast;
        let smallest_change = contrast.smallest_change.get();
        let limits = [change.low, change.high];
        let verdict = verdict(change.difference, limits, change.mdc95, smallest_change);
        let settling = (verdict == Verdict::CannotTell)
            .then(|| self.settling(&change, smallest_change, level))
            .flatten();
        let said = sentence::sentence(&Said {
            verdict,
            means: change.means,
            limits,
            confidence: level,
            mdc95: change.mdc95,
            smallest_change,
            reading,
            sessions: [from.len(), to.len()],
            settling,
        });
        Some(PlacedChangeFinding {
            child: self.child.to_owned(),
            from: contrast.from.to_string(),
            to: contrast.to.to_string(),
            words: contrast.words.into(),
            sessions_from: from.len(),
            sessions_to: to.len(),
            mean_from: change.means[0],
            mean_to: change.means[1],
            difference: change.difference,
            ci: limits,
            mdc95: change.mdc95,
            mdc95_includes_sessions: reading == Reading::Child,
            linking_error: change.linking_error,
            verdict: word(verdict),
            sentence: format!("{said}{}", sentence::look(last.facts.look)),
            settling,
        })
    }

    /// What would settle it, the error of linking as it stands.
    fn settling(
        &self,
        change: &PlacedChange,
        smallest_change: f64,
        level: f64,
    ) -> Option<Settling> {
        let outlook = self
            .placed
            .outlook(self.from, self.to, self.reading, level)
            .ok()?;
        let seen = Seen {
            difference: change.difference,
            limits: [change.low, change.high],
            mdc95: change.mdc95,
            smallest_change,
        };
        Some(Settling::find(&outlook, &seen, &self.design))
    }
}
