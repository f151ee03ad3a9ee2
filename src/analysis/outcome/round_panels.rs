//! Who heard each of several rounds, and how far they agreed.

use serde::Serialize;

use crate::analysis::RoundTables;
use crate::analysis::agreement::Judged;
use crate::analysis::kept_only;
use crate::analysis::screened;
use crate::stats::agreement::AlphaScale;
use crate::stats::agreement::Workspace;
use crate::stats::agreement::krippendorff_alpha;
use crate::stats::agreement::percent_agreement;
use crate::stats::tally::Tally;
use crate::study::Invalid;
use crate::study::PresentationKind;
use crate::study::Rating;
use crate::study::record::RoundRecord;

/// One round's panel. Shares of 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundPanelFinding {
    /// The round.
    pub round: String,
    /// Listeners whom the sealed rules keep.
    pub listeners: usize,
    /// Listeners who judged and whom the rules leave out.
    pub left_out: usize,
    /// Recordings that those who are kept judged, links among them.
    pub tokens: usize,
    /// Their judgements, each of a first play.
    pub judgements: usize,
    /// How often two of them gave the same answer to the same recording; nothing where no two judged one.
    pub percent_agreement: Option<f64>,
    /// Krippendorff's alpha; nothing where it is undefined.
    pub krippendorff_alpha: Option<f64>,
}

impl RoundPanelFinding {
    /// # Errors
    /// [`Invalid`] where tables and plan of the round do not fit each other.
    pub(super) fn of(record: &RoundRecord, tables: &RoundTables) -> Result<Self, Invalid> {
        let screened = screened(record, tables)?;
        let listeners = screened.listeners.iter().filter(|row| row.kept).count();
        let kept = kept_only(&tables.ratings, &screened);
        let rows: Vec<&Rating> = kept.of_kind(PresentationKind::Main).collect();
        let judged = Judged::of(&kept, &rows, kept.values.len(), |value| value)?;
        let tally = Tally::of(&judged.table);
        let percent = percent_agreement(tally.weighted());
        let alpha = krippendorff_alpha(
            tally.weighted(),
            AlphaScale::Nominal,
            &mut Workspace::default(),
        );
        Ok(Self {
            round: record.facts.round.clone(),
            listeners,
            left_out: screened.listeners.len() - listeners,
            tokens: judged.table.n_items(),
            judgements: judged.table.n_judgements(),
            percent_agreement: percent.ok().map(|percent| percent.estimate),
            krippendorff_alpha: alpha.ok(),
        })
    }
}
