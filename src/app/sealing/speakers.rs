//! Who speaks the words of a round that are not scored, held against who is scored and who is barred.

use std::collections::BTreeSet;

use super::Draft;
use super::Entry;
use crate::study::ChildCode;
use crate::study::Use;

/// What the sound check may play.
const SAMPLES: [Use; 3] = [Use::Example, Use::Practice, Use::WarmUp];

impl Draft {
    /// Whether the round plays any word of a child.
    pub(super) fn plays(&self, child: &ChildCode) -> bool {
        let mut speakers = self.entries.iter().filter_map(speaker);
        speakers.any(|speaker| speaker == child)
    }

    /// Examples of speakers who are judged, and listeners to whom no sample may be played.
    pub(super) fn speaker_problems(&self) -> Vec<(String, String)> {
        let judged_too = self.examples_of_the_judged();
        judged_too.chain(self.without_sample()).collect()
    }

    /// Whoever was told what is right of a speaker does not judge the same speaker unprejudiced.
    fn examples_of_the_judged(&self) -> impl Iterator<Item = (String, String)> {
        let examples = self.entries.iter().filter(|entry| {
            let judged = speaker(entry).is_some_and(|child| self.children.contains(child));
            entry.token.key.use_ == Use::Example && judged
        });
        examples.map(|entry| {
            let file = entry.token.key.file.as_deref().unwrap_or_default();
            (
                format!("{file} is an example, and words of its speaker are judged in this round"),
                "exclude it and import an example of another speaker, or leave that child out of \
                 `tokens.children`"
                    .to_owned(),
            )
        })
    }

    fn without_sample(&self) -> impl Iterator<Item = (String, String)> {
        let bars = &self.plan.listeners.bars;
        let listeners: BTreeSet<u32> = bars.iter().map(|bar| bar.listener).collect();
        let samples: Vec<_> = self
            .entries
            .iter()
            .filter(|entry| SAMPLES.contains(&entry.token.key.use_))
            .map(speaker)
            .collect();
        let is_barred = move |listener: u32, child: &ChildCode| {
            let mut hers = bars.iter().filter(|bar| bar.listener == listener);
            hers.any(|bar| bar.child == *child)
        };
        let left_without = listeners.into_iter().filter(move |listener| {
            let barred = |child: Option<&ChildCode>| child.is_some_and(|c| is_barred(*listener, c));
            !samples.is_empty() && samples.iter().copied().all(barred)
        });
        left_without.map(|listener| {
            (
                format!("listener {listener} is barred from every speaker whom the sound check could play"),
                "import an example, practice or warm-up word of another speaker".to_owned(),
            )
        })
    }
}

fn speaker(entry: &Entry) -> Option<&ChildCode> {
    entry.token.key.child.as_ref()
}
