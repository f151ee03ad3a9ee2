//! The coefficients of all raters together, each with its intervals and its word.

use super::super::Labelled;
use super::super::Reasons;
use super::super::Scale;
use super::super::ScaleKind;
use super::super::finite;
use super::AgreementOptions;
use super::Judged;
use super::finding::Agreed;
use super::finding::Alone;
use super::finding::Coefficient;
use super::finding::CoefficientWithError;
use super::finding::FleissFinding;
use super::finding::StrengthFinding;
use super::finding::WithError;
use super::pairs::cut;
use crate::stats::Undefined;
use crate::stats::agreement as of;
use crate::stats::agreement::AlphaScale;
use crate::stats::agreement::ChanceCorrected;
use crate::stats::agreement::StrengthScale;
use crate::stats::agreement::Workspace;
use crate::stats::proportion::wilson_score;
use crate::stats::special::StudentT;
use crate::stats::tally::Tally;
use crate::stats::tally::Weighted;

/// What the coefficients of one table have in common.
pub(super) struct WholePanel<'a> {
    pub(super) judged: &'a Judged,
    pub(super) tally: &'a Tally,
    pub(super) scale: &'a Scale,
    pub(super) options: &'a AgreementOptions,
}

/// The spread of an estimate: over items with these raters, and over raters too.
struct Spread {
    over_items: Result<(f64, f64), Undefined>,
    over_both: Result<(f64, f64), Undefined>,
}

impl WholePanel<'_> {
    pub(super) fn percent(&self, reasons: &mut Reasons) -> Agreed {
        let field = "percent_agreement";
        let found = of::percent_agreement(self.tally.weighted());
        let Some(found) = reasons.keep(field, found) else {
            return Agreed {
                estimate: None,
                ci: None,
                ci_both: None,
            };
        };
        let spread = self.spread(found.variance, found.items, |tally, _| {
            of::percent_agreement(tally).map(|percent| percent.estimate)
        });
        // The score interval never closes at 100%: without any spread over items each item is one trial.
        let interval = |(variance, df): (f64, f64)| {
            let p = found.estimate;
            let n = if variance > 0.0 {
                p * (1.0 - p) / variance
            } else {
                found.items
            };
            quantile(self.options.confidence, df).map(|t| wilson_score(p, n, t))
        };
        Agreed {
            estimate: Some(found.estimate),
            ci: reasons.keep("percent_agreement.ci", spread.over_items.and_then(interval)),
            ci_both: reasons.keep(
                "percent_agreement.ci_both",
                spread.over_both.and_then(interval),
            ),
        }
    }

    pub(super) fn specific(&self, reasons: &mut Reasons) -> Labelled<Alone> {
        let found = of::specific_agreement(self.tally.weighted());
        self.by_category(
            found.into_iter().map(|estimate| Alone { estimate }),
            |label| {
                let field = format!("specific_agreement.{label}");
                reasons.say(
                    &field,
                    "nobody used this category on an item with two judgements",
                );
            },
        )
    }

    pub(super) fn fleiss(&self, reasons: &mut Reasons) -> FleissFinding {
        let tally = self.tally.weighted();
        let found = reasons.keep("fleiss_kappa", of::fleiss_kappa(tally));
        let null = found.and_then(|_| {
            let null = of::fleiss_null_error(tally);
            for field in ["z", "p"] {
                reasons.keep(&format!("fleiss_kappa.{field}"), null);
            }
            reasons.keep("fleiss_kappa.se_null", null)
        });
        let whole = self.corrected("fleiss_kappa", found, of::fleiss_kappa, reasons);
        self.caution("fleiss_kappa", whole.ci, reasons);
        let count = u32::try_from(self.scale.categories().len()).unwrap_or(u32::MAX);
        let of_categories: Vec<Alone> = (0..count)
            .map(|category| Alone {
                estimate: of::fleiss_kappa_of_category(tally, category).ok(),
            })
            .collect();
        FleissFinding {
            estimate: whole.estimate,
            se_null: null.and_then(|null| finite(null.se)),
            z: null.and_then(|null| finite(null.z)),
            p: null.and_then(|null| finite(null.p)),
            ci: whole.ci,
            ci_both: whole.ci_both,
            per_category: self.by_category(of_categories, |label| {
                let field = format!("fleiss_kappa.per_category.{label}");
                reasons.say(&field, "nobody used this category, or all did always");
            }),
            strength: whole.strength,
        }
    }

    pub(super) fn ac1(&self, reasons: &mut Reasons) -> CoefficientWithError {
        let found = reasons.keep("gwet_ac1", of::gwet_ac1(self.tally.weighted()));
        self.corrected("gwet_ac1", found, of::gwet_ac1, reasons)
    }

    pub(super) fn brennan_prediger(&self, reasons: &mut Reasons) -> WithError {
        let found = of::brennan_prediger(self.tally.weighted());
        self.over_items("brennan_prediger", found, reasons)
    }

    pub(super) fn conger(&self, reasons: &mut Reasons) -> WithError {
        let found = of::conger_kappa(&self.judged.table, self.tally);
        self.over_items("conger_kappa", found, reasons)
    }

    pub(super) fn alpha(&self, reasons: &mut Reasons) -> Coefficient {
        let field = "krippendorff_alpha";
        let numbers = self.scale.numbers().unwrap_or_default();
        let scale = match self.scale.kind() {
            ScaleKind::Nominal => AlphaScale::Nominal,
            ScaleKind::Ordinal => AlphaScale::Ordinal,
            ScaleKind::Interval => AlphaScale::Interval(&numbers),
        };
        let estimate =
            of::krippendorff_alpha(self.tally.weighted(), scale, &mut Workspace::default());
        let Some(estimate) = reasons.keep(field, estimate) else {
            return Coefficient {
                estimate: None,
                ci: None,
                ci_both: None,
                strength: None,
            };
        };
        let options = self.options;
        let resampled = of::resampled_alphas(self.tally, scale, options.replicates, options.seed);
        let left_out = options.replicates as usize - resampled.len();
        if left_out > 0 {
            reasons.say(
                "krippendorff_alpha.left_out",
                format!(
                    "{left_out} of {} resamples show one category only and are left out",
                    options.replicates
                ),
            );
        }
        let items = self.pairable_items();
        let spread = self.spread(variance_of(&resampled, items), items, |tally, workspace| {
            of::krippendorff_alpha(tally, scale, workspace)
        });
        let ci = percentiles(&resampled, self.options.confidence, items);
        let strength = strength(estimate, &spread);
        let ci = reasons.keep("krippendorff_alpha.ci", ci.map(cut));
        self.caution(field, ci, reasons);
        Coefficient {
            estimate: Some(estimate),
            ci,
            ci_both: self.ci_both(field, estimate, spread.over_both, reasons),
            strength,
        }
    }

    fn corrected(
        &self,
        field: &str,
        found: Option<ChanceCorrected>,
        coefficient: impl Fn(Weighted<'_>) -> Result<ChanceCorrected, Undefined> + Sync,
        reasons: &mut Reasons,
    ) -> CoefficientWithError {
        let Some(found) = found else {
            return CoefficientWithError {
                estimate: None,
                se: None,
                ci: None,
                ci_both: None,
                strength: None,
            };
        };
        let spread = self.spread(found.variance, found.items, |tally, _| {
            coefficient(tally).map(|found| found.estimate)
        });
        let ci = spread
            .over_items
            .and_then(|spread| self.around(found.estimate, spread));
        CoefficientWithError {
            estimate: Some(found.estimate),
            se: error_over_items(field, found, reasons),
            ci: reasons.keep(&format!("{field}.ci"), ci),
            ci_both: self.ci_both(field, found.estimate, spread.over_both, reasons),
            strength: strength(found.estimate, &spread),
        }
    }

    fn over_items(
        &self,
        field: &str,
        found: Result<ChanceCorrected, Undefined>,
        reasons: &mut Reasons,
    ) -> WithError {
        let Some(found) = reasons.keep(field, found) else {
            return WithError {
                estimate: None,
                se: None,
                ci: None,
            };
        };
        let spread = found.variance.ok_or(Undefined::OneItem);
        let ci = spread.and_then(|v| self.around(found.estimate, (v, found.items - 1.0)));
        WithError {
            estimate: Some(found.estimate),
            se: error_over_items(field, found, reasons),
            ci: reasons.keep(&format!("{field}.ci"), ci),
        }
    }

    fn spread(
        &self,
        over_items: Option<f64>,
        items: f64,
        coefficient: impl Fn(Weighted<'_>, &mut Workspace) -> Result<f64, Undefined> + Sync,
    ) -> Spread {
        let over_items = over_items.ok_or(Undefined::OneItem);
        let over_raters = of::rater_variance(&self.judged.table, self.tally, coefficient);
        let raters = self.judged.table.n_raters() as f64;
        Spread {
            over_items: over_items.map(|variance| (variance, items - 1.0)),
            over_both: over_items
                .and_then(|variance| Ok(of::both_variance(variance, items, over_raters?, raters))),
        }
    }

    fn ci_both(
        &self,
        field: &str,
        estimate: f64,
        spread: Result<(f64, f64), Undefined>,
        reasons: &mut Reasons,
    ) -> Option<[f64; 2]> {
        let ci = spread.and_then(|spread| self.around(estimate, spread));
        reasons.keep(&format!("{field}.ci_both"), ci)
    }

    fn around(&self, estimate: f64, (variance, df): (f64, f64)) -> Result<[f64; 2], Undefined> {
        if variance <= 1e-18 {
            return Err(Undefined::NoSpread);
        }
        let half = quantile(self.options.confidence, df)? * variance.sqrt();
        Ok(cut([estimate - half, estimate + half]))
    }

    /// Says so where so few items differ from the rest that an interval over items is too narrow.
    fn caution(&self, field: &str, ci: Option<[f64; 2]>, reasons: &mut Reasons) {
        let apart = of::items_apart(self.tally.weighted());
        if ci.is_some() && apart < of::FEWEST_APART {
            reasons.say(
                &format!("{field}.narrow"),
                format!(
                    "a quarter or more of the judgements differ from the commonest answer on {apart} items only; on fewer than {} the \
                     interval is too narrow, and with three or less of little use",
                    of::FEWEST_APART
                ),
            );
        }
    }

    fn pairable_items(&self) -> f64 {
        self.tally
            .weighted()
            .pairable()
            .map(|(weight, _)| weight)
            .sum()
    }

    fn by_category(
        &self,
        values: impl IntoIterator<Item = Alone>,
        mut missing: impl FnMut(&str),
    ) -> Labelled<Alone> {
        self.scale
            .categories()
            .iter()
            .cloned()
            .zip(values)
            .inspect(|(label, value)| {
                if value.estimate.is_none() {
                    missing(label);
                }
            })
            .collect()
    }
}

fn strength(estimate: f64, spread: &Spread) -> Option<StrengthFinding> {
    let (variance, note) = match (spread.over_both, spread.over_items) {
        (Ok((variance, _)), _) => (
            variance,
            "a convention; what the coefficient deserves with a probability above .95, for raters like these",
        ),
        (_, Ok((variance, _))) => (
            variance,
            "a convention; what the coefficient deserves with a probability above .95, for these raters only",
        ),
        _ => return None,
    };
    let scale = StrengthScale::LandisKoch;
    let found = of::strength(estimate, variance.sqrt(), scale)?;
    Some(StrengthFinding {
        word: found.word.to_owned(),
        scale: scale.name(),
        note,
    })
}

fn error_over_items(field: &str, found: ChanceCorrected, reasons: &mut Reasons) -> Option<f64> {
    let variance = found.variance.ok_or(Undefined::OneItem);
    reasons
        .keep(&format!("{field}.se"), variance)
        .map(f64::sqrt)
}

fn quantile(confidence: f64, df: f64) -> Result<f64, Undefined> {
    let distribution = StudentT::new(df).map_err(|_| Undefined::OneItem)?;
    Ok(distribution.quantile(f64::midpoint(1.0, confidence)))
}

/// The two-sided percentile interval of sorted values.
fn percentiles(sorted: &[f64], confidence: f64, items: f64) -> Result<[f64; 2], Undefined> {
    if items < 2.0 {
        return Err(Undefined::OneItem);
    }
    if sorted.len() < 100 {
        return Err(Undefined::FewResamples);
    }
    let tail = (1.0 - confidence) / 2.0;
    let ends = [at(sorted, tail), at(sorted, 1.0 - tail)];
    let [low, high] = ends;
    if high - low <= 1e-12 {
        return Err(Undefined::NoSpread);
    }
    Ok(ends)
}

/// The value below which a share of the sorted values lies, by linear interpolation between them.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place within the values"
)]
fn at(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len().saturating_sub(1)) as f64;
    let below = place.floor();
    let low = sorted.get(below as usize).copied().unwrap_or(f64::NAN);
    let high = sorted.get(below as usize + 1).copied().unwrap_or(low);
    low + (place - below) * (high - low)
}

fn variance_of(values: &[f64], items: f64) -> Option<f64> {
    if values.len() < 100 || items < 2.0 {
        return None;
    }
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    Some(
        values
            .iter()
            .map(|value| (value - mean).powi(2))
            .sum::<f64>()
            / (n - 1.0),
    )
}
