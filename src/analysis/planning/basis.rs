//! Where the forecast of precision comes from: an earlier round's data, or stated defaults.

use crate::analysis::RoundTables;
use crate::analysis::kept_ratings;
use crate::analysis::outcome::Joined;
use crate::analysis::precision::observations;
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
        }))
    }

    /// Its components, by name.
    pub fn parts(&self) -> Vec<(&'static str, f64)> {
        let parts = self.components.components.iter();
        parts
            .map(|part| (part.facet.name(), part.variance))
            .collect()
    }
}
