//! Each pair of raters.

use super::super::Labelled;
use super::super::Reasons;
use super::super::Scale;
use super::super::finite;
use super::Judged;
use super::finding::McNemarFinding;
use super::finding::PairAgreement;
use super::finding::Weighted;
use super::finding::WithError;
use crate::stats::Undefined;
use crate::stats::agreement::CohenKappa;
use crate::stats::agreement::PairTable;
use crate::stats::agreement::PairWeights;
use crate::stats::agreement::cohen_kappa;
use crate::stats::agreement::mcnemar;
use crate::stats::agreement::pair_tables;

/// More categories than this make no table of pairs.
const MOST_CATEGORIES: usize = 100;

/// All pairs with items in common, and the mean of their kappas.
pub(super) fn pairs(
    judged: &Judged,
    scale: &Scale,
    confidence: f64,
    reasons: &mut Reasons,
) -> (Vec<PairAgreement>, Option<f64>) {
    if scale.categories().len() > MOST_CATEGORIES {
        reasons.say("cohen_kappa", Undefined::ManyCategories);
        reasons.say("mean_pairwise_kappa", Undefined::ManyCategories);
        return (Vec::new(), None);
    }
    let pairs = pair_tables(&judged.table, |a, b, pair| {
        let names = (judged.rater(a), judged.rater(b));
        one_pair(names, pair, scale, confidence)
    });
    if scale.categories().len() != 2 && !pairs.is_empty() {
        for field in ["pabak", "prevalence_index", "bias_index", "mcnemar"] {
            reasons.say(&format!("cohen_kappa.{field}"), Undefined::NotTwoCategories);
        }
    }
    if scale.distances().is_none() && !pairs.is_empty() {
        reasons.say(
            "cohen_kappa.weighted",
            "a nominal scale has no distances; give --scale ordinal or interval",
        );
    }
    let kappas: Vec<f64> = pairs.iter().filter_map(|pair| pair.estimate).collect();
    if pairs.is_empty() {
        let reason = if judged.table.n_raters() < 2 {
            Undefined::OneRater
        } else {
            Undefined::NoPairs
        };
        reasons.say("cohen_kappa", reason);
        reasons.say("mean_pairwise_kappa", reason);
    } else if kappas.is_empty() {
        reasons.say("mean_pairwise_kappa", "no pair of raters has a kappa");
    } else if kappas.len() < pairs.len() {
        let left_out = pairs.len() - kappas.len();
        reasons.say(
            "mean_pairwise_kappa.left_out",
            format!(
                "{left_out} of {} pairs have no kappa and are left out",
                pairs.len()
            ),
        );
    }
    let mean = (!kappas.is_empty()).then(|| kappas.iter().sum::<f64>() / kappas.len() as f64);
    (pairs, mean)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a table of pairs counts items"
)]
fn one_pair(
    (rater_a, rater_b): (&str, &str),
    pair: &PairTable,
    scale: &Scale,
    confidence: f64,
) -> PairAgreement {
    let mut reasons = Reasons::new();
    let kappa = reasons.keep("estimate", cohen_kappa(pair, PairWeights::Nominal));
    let positive = scale.positive();
    let of_kappa = |number: fn(&CohenKappa) -> f64| kappa.as_ref().map(number).and_then(finite);
    let ci = kappa
        .as_ref()
        .and_then(|kappa| reasons.keep("ci", kappa.interval(confidence).map(cut)));
    if kappa.is_some_and(|kappa| kappa.se_null <= 0.0) {
        for field in ["z", "p"] {
            reasons.say(
                field,
                "under chance alone this table could not differ, so there is no test",
            );
        }
    }
    let weighted = scale.distances().map(|distances| Weighted {
        linear: weighted(
            "linear",
            pair,
            PairWeights::Linear(&distances),
            confidence,
            &mut reasons,
        ),
        quadratic: weighted(
            "quadratic",
            pair,
            PairWeights::Quadratic(&distances),
            confidence,
            &mut reasons,
        ),
    });
    PairAgreement {
        rater_a: rater_a.to_owned(),
        rater_b: rater_b.to_owned(),
        items: pair.items() as usize,
        observed: pair.observed(),
        expected: of_kappa(|kappa| kappa.expected),
        estimate: of_kappa(|kappa| kappa.estimate),
        se: of_kappa(|kappa| kappa.se),
        se_null: of_kappa(|kappa| kappa.se_null),
        z: of_kappa(|kappa| kappa.z),
        p: of_kappa(|kappa| kappa.p),
        ci,
        pabak: pair.pabak().ok(),
        prevalence_index: pair.prevalence_index(positive).ok(),
        bias_index: pair.bias_index(positive).ok(),
        specific_agreement: specific(pair, scale, &mut reasons),
        weighted,
        mcnemar: mcnemar_of(pair, positive, &mut reasons),
        reasons,
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "discordant items are counts"
)]
fn mcnemar_of(pair: &PairTable, positive: usize, reasons: &mut Reasons) -> Option<McNemarFinding> {
    let (only_a, only_b) = pair.discordant(positive).ok()?;
    let Some(test) = mcnemar(only_a as u32, only_b as u32) else {
        reasons.say("mcnemar", "the two raters never disagree");
        return None;
    };
    Some(McNemarFinding {
        only_a,
        only_b,
        chi2: test.chi2,
        p_exact: test.p_exact,
        p_mid: test.p_mid,
    })
}

fn specific(pair: &PairTable, scale: &Scale, reasons: &mut Reasons) -> Labelled<Option<f64>> {
    let of_category = |(place, label): (usize, &String)| {
        let found = pair
            .specific(place)
            .ok_or("neither rater used this category");
        let field = format!("specific_agreement.{label}");
        (label.clone(), reasons.keep(&field, found))
    };
    scale
        .categories()
        .iter()
        .enumerate()
        .map(of_category)
        .collect()
}

fn weighted(
    name: &str,
    pair: &PairTable,
    weights: PairWeights<'_>,
    confidence: f64,
    reasons: &mut Reasons,
) -> WithError {
    let field = format!("weighted.{name}");
    let kappa = reasons.keep(&field, cohen_kappa(pair, weights));
    let ci = kappa.map(|kappa| kappa.interval(confidence).map(cut));
    WithError {
        estimate: kappa.and_then(|kappa| finite(kappa.estimate)),
        se: kappa.and_then(|kappa| finite(kappa.se)),
        ci: ci.and_then(|ci| reasons.keep(&format!("{field}.ci"), ci)),
    }
}

/// An interval as it is shown: no coefficient of this kind lies beyond −1 and 1.
pub(super) fn cut([low, high]: [f64; 2]) -> [f64; 2] {
    [low.max(-1.0), high.min(1.0)]
}
