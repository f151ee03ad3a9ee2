//! Where the forecast of precision comes from: an earlier round's data, or stated defaults.

use crate::analysis::RoundTables;
use crate::analysis::kept_ratings;
use crate::analysis::outcome::Joined;
use crate::analysis::precision::observations;
use crate::stats::interval::UNKNOWN_SPREAD;
use crate::stats::precision::Component;
use crate::stats::precision::Components;
use crate::stats::precision::Facet;
use crate::stats::precision::components;
use crate::study::Invalid;
use crate::study::record::RoundRecord;

/// The variance components that a forecast rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct PrecisionBasis {
    /// The components.
    pub components: Components,
    /// The round that they were seen in; nothing where they are assumed.
    pub seen_in: Option<String>,
    /// Judgements of each word there.
    judgements_per_token: f64,
}

/// Variances of single judgements where nothing is known yet (ours, common practice without a source): of a sound that is
/// right half of the time, where a judgement varies most, so that they sum to a quarter; beside them the good and bad days
/// and the children.
const ASSUMED: &[(Facet, f64)] = &[
    (Facet::Child, 0.03),
    (Facet::Session, 0.01),
    (Facet::Word, 0.01),
    (Facet::Token, 0.12),
    (Facet::Listener, 0.01),
    (Facet::ListenerByChild, 0.005),
    (Facet::ListenerBySession, 0.005),
    (Facet::Residual, 0.10),
];

impl PrecisionBasis {
    /// What is assumed where no round was unlocked yet.
    pub fn assumed() -> Self {
        let one = |(facet, variance): &(Facet, f64)| Component {
            facet: *facet,
            with: Vec::new(),
            variance: *variance,
        };
        Self {
            components: Components {
                components: ASSUMED.iter().map(one).collect(),
                unseen: Vec::new(),
            },
            seen_in: None,
            judgements_per_token: 0.0,
        }
    }

    /// The components of an unlocked round, of the listeners whom its rules kept; nothing where it holds no two judgements
    /// to compare.
    ///
    /// # Errors
    /// [`Invalid`] where the round contradicts itself.
    pub fn seen(record: &RoundRecord, tables: &RoundTables) -> Result<Option<Self>, Invalid> {
        let ratings = kept_ratings(record, tables)?;
        let joined = Joined::new(&ratings, &tables.tokens)?;
        let found = components(&observations(&joined));
        Ok((!found.components.is_empty()).then(|| Self {
            components: found,
            seen_in: Some(record.facts.round.clone()),
            judgements_per_token: f64::from(record.plan.listeners.judgements_per_token),
        }))
    }

    /// How far a word's share `correct` by a later panel, of so many judgements each, will spread about what the earlier
    /// panel gave it: √(v/m + v/n), with v the variance between judgements of one word. Where nothing was seen yet, that of
    /// words at one half with nine judgements each.
    pub(super) fn link_spread(&self, judgements: u32) -> f64 {
        if self.seen_in.is_none() {
            return UNKNOWN_SPREAD;
        }
        let of_listeners = self.components.components.iter().filter(|part| {
            !matches!(
                part.facet,
                Facet::Child | Facet::Session | Facet::Word | Facet::WordByChild | Facet::Token
            )
        });
        let variance: f64 = of_listeners.map(|part| part.variance).sum();
        let each = |judgements: f64| variance / judgements.max(1.0);
        (each(self.judgements_per_token) + each(f64::from(judgements))).sqrt()
    }

    /// Its components, by name.
    pub fn parts(&self) -> Vec<(&'static str, f64)> {
        let parts = self.components.components.iter();
        parts
            .map(|part| (part.facet.name(), part.variance))
            .collect()
    }
}
