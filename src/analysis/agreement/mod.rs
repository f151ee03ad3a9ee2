//! Agreement of raters: from judgements to every coefficient, with intervals, words and reasons.

mod finding;
mod intraclass;
mod judged;
mod pairs;
mod whole_panel;

pub use finding::Agreed;
pub use finding::Agreement;
pub use finding::Alone;
pub use finding::CochranFinding;
pub use finding::Coefficient;
pub use finding::CoefficientWithError;
pub use finding::FleissFinding;
pub use finding::IccFinding;
pub use finding::IccFormFinding;
pub use finding::McNemarFinding;
pub use finding::PairAgreement;
pub use finding::StrengthFinding;
pub use finding::Weighted;
pub use finding::WithError;

pub(super) use judged::Judged;
use whole_panel::WholePanel;

use super::Labelled;
use super::Reasons;
use super::Scale;
use super::ScaleKind;
use crate::stats::Undefined;
use crate::stats::tally::Tally;
use crate::study::Invalid;
use crate::study::Ratings;
use crate::study::TokenTable;

/// How agreement is to be computed.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreementOptions {
    /// What may be done with the values.
    pub scale: ScaleKind,
    /// The scale's categories in their order; absent: those seen.
    pub categories: Option<Vec<String>>,
    /// The level of every interval, strictly between 0 and 1.
    pub confidence: f64,
    /// Resamples of items for the interval of alpha.
    pub replicates: u32,
    /// The seed of these resamples.
    pub seed: u64,
}

/// Computes agreement of the main judgements, and with `tokens` the same for each phase and each child on the same scale.
///
/// # Errors
/// [`Invalid`] where the values do not fit the scale, or a judged token is not in `tokens`.
pub fn agreement(
    ratings: &Ratings,
    tokens: Option<&TokenTable>,
    options: &AgreementOptions,
) -> Result<Agreement, Invalid> {
    let scale = Scale::of(
        options.scale,
        &ratings.values,
        options.categories.as_deref(),
    )?;
    let mut whole = one(&Judged::all(ratings, &scale)?, &scale, options);
    if let Some(tokens) = tokens {
        let rows = judged::rows_of_items(ratings, tokens)?;
        let part = |names: &[String], of: &dyn Fn(&crate::study::TokenRow) -> u32| {
            let groups = judged::by_label(ratings, &rows, names.len(), of);
            names
                .iter()
                .zip(groups)
                .filter(|(_, rows)| !rows.is_empty())
                .map(|(name, rows)| {
                    let judged = Judged::on_scale(ratings, &rows, &scale)?;
                    Ok((name.clone(), one(&judged, &scale, options)))
                })
                .collect::<Result<Labelled<_>, Invalid>>()
        };
        whole.by_phase = Some(part(tokens.phases.names(), &|row| row.phase)?);
        whole.by_child = Some(part(tokens.children.names(), &|row| row.child)?);
    }
    Ok(whole)
}

fn one(judged: &Judged, scale: &Scale, options: &AgreementOptions) -> Agreement {
    let mut reasons = Reasons::new();
    let tally = Tally::of(&judged.table);
    let whole = WholePanel {
        judged,
        tally: &tally,
        scale,
        options,
    };
    let confidence = options.confidence;
    let percent_agreement = whole.percent(&mut reasons);
    let specific_agreement = whole.specific(&mut reasons);
    let (cohen_kappa, mean_pairwise_kappa) = pairs::pairs(judged, scale, confidence, &mut reasons);
    let mut found = Agreement {
        items: judged.table.n_items(),
        raters: judged.table.n_raters(),
        values: judged.table.n_judgements(),
        categories: scale.categories().to_vec(),
        complete: judged.table.is_complete(),
        percent_agreement,
        specific_agreement,
        cohen_kappa,
        mean_pairwise_kappa,
        fleiss_kappa: whole.fleiss(&mut reasons),
        krippendorff_alpha: whole.alpha(&mut reasons),
        gwet_ac1: whole.ac1(&mut reasons),
        brennan_prediger: whole.brennan_prediger(&mut reasons),
        conger_kappa: whole.conger(&mut reasons),
        icc: intraclass::icc(judged, scale, confidence, &mut reasons),
        cochran_q: intraclass::cochran(judged, &mut reasons),
        by_phase: None,
        by_child: None,
        reasons,
    };
    if found.values == 0 {
        found.reasons.say("items", Undefined::NoJudgements);
        found.reasons.say_of_all(Undefined::NoJudgements);
    }
    found
}
