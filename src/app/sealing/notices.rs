//! What a plan can be sealed with, and had better not: staff are told, and decide.

use super::Draft;
use crate::study::KnownAnswer;
use crate::study::Use;

/// What the examples of a sound are to show.
const KINDS: [(KnownAnswer, &str); 3] = [
    (KnownAnswer::Correct, "a clear correct one"),
    (KnownAnswer::Distorted, "a clear distorted one"),
    (KnownAnswer::Divided, "one on which listeners were divided"),
];

impl Draft {
    /// What staff should look at before they seal, a sentence each.
    pub(super) fn notices(&self) -> Vec<String> {
        let mut notices = self.examples_that_lack();
        notices.extend(self.short_supply());
        notices
    }

    /// Sounds whose examples do not show what is correct, what is distorted, and what lies between.
    fn examples_that_lack(&self) -> Vec<String> {
        let targets = &self.plan.targets;
        let sounds: Vec<(Option<&str>, &str)> = if targets.is_empty() {
            vec![(None, self.settings.target.as_str())]
        } else {
            let told = targets.iter();
            told.map(|one| (Some(one.target.as_str()), one.name.as_str()))
                .collect()
        };
        sounds
            .into_iter()
            .filter_map(|(target, name)| {
                let lacking: Vec<_> = KINDS
                    .iter()
                    .filter(|(answer, _)| !self.has_example(target, *answer))
                    .map(|(_, kind)| *kind)
                    .collect();
                (!lacking.is_empty()).then(|| {
                    format!(
                        "Among the examples of {name} there is not {}: import it with use \
                         `example` and its answer, so that listeners know what they are to tell \
                         apart.",
                        lacking.join(", nor ")
                    )
                })
            })
            .collect()
    }

    fn has_example(&self, target: Option<&str>, answer: KnownAnswer) -> bool {
        self.entries.iter().any(|entry| {
            let key = &entry.token.key;
            let fits = target.is_none() || key.target.is_none() || key.target.as_deref() == target;
            key.use_ == Use::Example && key.answer == Some(answer) && fits
        })
    }

    /// Checks and warm-ups are dealt to a listener once: later sittings may be left without.
    fn short_supply(&self) -> Vec<String> {
        let scored = self.entries.iter().filter(|entry| entry.stratum.is_some());
        let scored = u32::try_from(scored.count()).unwrap_or(u32::MAX);
        let sitting = &self.plan.sitting;
        let main = scored.min(sitting.tokens).max(1);
        let sittings = self.plan.listeners.sittings.min(scored.div_ceil(main));
        [(Use::Check, sitting.checks), (Use::WarmUp, sitting.warm_up)]
            .into_iter()
            .filter_map(|(use_, places)| {
                let wanted = places.saturating_mul(sittings);
                let there = self.entries.iter();
                let there = there.filter(|entry| entry.token.key.use_ == use_).count();
                (sittings > 1 && there < wanted as usize).then(|| {
                    format!(
                        "A listener may do {sittings} sittings with {places} {use_} words each, \
                         and hears none of them twice: the study has {there} of {wanted}, so that \
                         later sittings have fewer or none. Import more, or ask for fewer."
                    )
                })
            })
            .collect()
    }
}
