//! What is found about agreement, in the fields and the order of the command line's contract.

use serde::Serialize;

use super::super::Labelled;
use super::super::Reasons;

/// How far raters agree: overall, and where it is asked for by phase and by child.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// Items that were judged.
    pub items: usize,
    /// Raters who judged.
    pub raters: usize,
    /// Judgements.
    pub values: usize,
    /// The scale's categories in their order.
    pub categories: Vec<String>,
    /// Whether every rater judged every item.
    pub complete: bool,
    /// Percent agreement.
    pub percent_agreement: Agreed,
    /// Specific agreement of each category.
    pub specific_agreement: Labelled<Alone>,
    /// Cohen's kappa of each pair of raters with items in common.
    pub cohen_kappa: Vec<PairAgreement>,
    /// The mean of the pairs' kappas that exist.
    pub mean_pairwise_kappa: Option<f64>,
    /// Fleiss' kappa.
    pub fleiss_kappa: FleissFinding,
    /// Krippendorff's alpha.
    pub krippendorff_alpha: Coefficient,
    /// Gwet's AC1.
    pub gwet_ac1: CoefficientWithError,
    /// Brennan and Prediger's coefficient.
    pub brennan_prediger: WithError,
    /// Conger's kappa.
    pub conger_kappa: WithError,
    /// Intraclass correlations, where the table is complete and its values are numbers.
    pub icc: Option<IccFinding>,
    /// Cochran's Q, where there are two categories and the table is complete.
    pub cochran_q: Option<CochranFinding>,
    /// The same by phase.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_phase: Option<Labelled<Agreement>>,
    /// The same by child.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_child: Option<Labelled<Agreement>>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// A share with its two intervals.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreed {
    /// The estimate.
    pub estimate: Option<f64>,
    /// These raters, other items.
    pub ci: Option<[f64; 2]>,
    /// Other raters like them too.
    pub ci_both: Option<[f64; 2]>,
}

/// An estimate without an interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alone {
    /// The estimate.
    pub estimate: Option<f64>,
}

/// A coefficient with its two intervals.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Coefficient {
    /// The estimate.
    pub estimate: Option<f64>,
    /// These raters, other items.
    pub ci: Option<[f64; 2]>,
    /// Other raters like them too.
    pub ci_both: Option<[f64; 2]>,
    /// A word for it.
    pub strength: Option<StrengthFinding>,
}

/// A coefficient with its error over items and its two intervals.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoefficientWithError {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Standard error over items, these raters.
    pub se: Option<f64>,
    /// These raters, other items.
    pub ci: Option<[f64; 2]>,
    /// Other raters like them too.
    pub ci_both: Option<[f64; 2]>,
    /// A word for it.
    pub strength: Option<StrengthFinding>,
}

/// A coefficient with its error and its interval over items.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WithError {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Standard error over items, these raters.
    pub se: Option<f64>,
    /// These raters, other items.
    pub ci: Option<[f64; 2]>,
}

/// Fleiss' kappa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FleissFinding {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Standard error under kappa = 0.
    pub se_null: Option<f64>,
    /// Kappa over it.
    pub z: Option<f64>,
    /// Two-sided.
    pub p: Option<f64>,
    /// These raters, other items.
    pub ci: Option<[f64; 2]>,
    /// Other raters like them too.
    pub ci_both: Option<[f64; 2]>,
    /// Each category against the others.
    pub per_category: Labelled<Alone>,
    /// A word for it.
    pub strength: Option<StrengthFinding>,
}

/// A word for a coefficient: a convention, from the interval and never from the estimate alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrengthFinding {
    /// The word.
    pub word: String,
    /// The scale that has this word.
    pub scale: &'static str,
    /// What it is worth.
    pub note: &'static str,
}

/// Cohen's kappa of one pair of raters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairAgreement {
    /// The first.
    pub rater_a: String,
    /// The second.
    pub rater_b: String,
    /// Items that both judged.
    pub items: usize,
    /// The share on which they agree.
    pub observed: Option<f64>,
    /// The share that chance would give.
    pub expected: Option<f64>,
    /// Kappa.
    pub estimate: Option<f64>,
    /// Standard error for intervals.
    pub se: Option<f64>,
    /// Standard error under kappa = 0.
    pub se_null: Option<f64>,
    /// Kappa over it.
    pub z: Option<f64>,
    /// Two-sided.
    pub p: Option<f64>,
    /// By `se`, cut at −1 and 1.
    pub ci: Option<[f64; 2]>,
    /// Twice the agreement seen, less 1.
    pub pabak: Option<f64>,
    /// How lopsided the material is.
    pub prevalence_index: Option<f64>,
    /// How much more often the first says 'positive' than the second.
    pub bias_index: Option<f64>,
    /// Specific agreement of each category.
    pub specific_agreement: Labelled<Option<f64>>,
    /// Kappa with weights, on an ordinal or interval scale.
    pub weighted: Option<Weighted>,
    /// McNemar's test, for two categories.
    pub mcnemar: Option<McNemarFinding>,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// Weighted kappas.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weighted {
    /// By distance.
    pub linear: WithError,
    /// By squared distance.
    pub quadratic: WithError,
}

/// McNemar's test of one pair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct McNemarFinding {
    /// Items that only the first calls positive.
    pub only_a: f64,
    /// Items that only the second does.
    pub only_b: f64,
    /// Without correction.
    pub chi2: f64,
    /// Exact, two-sided.
    pub p_exact: f64,
    /// Mid-p, two-sided.
    pub p_mid: f64,
}

/// The six intraclass correlations.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IccFinding {
    /// ICC(1,1).
    pub icc1: Option<IccFormFinding>,
    /// ICC(2,1).
    pub icc2: Option<IccFormFinding>,
    /// ICC(3,1).
    pub icc3: Option<IccFormFinding>,
    /// ICC(1,k).
    pub icc1k: Option<IccFormFinding>,
    /// ICC(2,k).
    pub icc2k: Option<IccFormFinding>,
    /// ICC(3,k).
    pub icc3k: Option<IccFormFinding>,
}

/// One intraclass correlation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IccFormFinding {
    /// Model, type and definition.
    pub form: &'static str,
    /// The estimate.
    pub estimate: Option<f64>,
    /// F of items against error.
    pub f: Option<f64>,
    /// Its degrees of freedom.
    pub df1: f64,
    /// Its degrees of freedom.
    pub df2: f64,
    /// Upper tail.
    pub p: Option<f64>,
    /// By F.
    pub ci: Option<[f64; 2]>,
    /// A word for each end of the interval.
    pub strength: Option<StrengthFinding>,
}

/// Cochran's Q.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CochranFinding {
    /// The statistic.
    pub q: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Upper tail.
    pub p: f64,
}
