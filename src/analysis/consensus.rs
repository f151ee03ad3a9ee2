//! What a panel says of each item, and how each rater errs.

use serde::Serialize;

use super::Positive;
use super::Reasons;
use super::agreement::Judged;
use crate::stats::consensus::Config;
use crate::stats::consensus::LatentClass;
use crate::stats::consensus::dawid_skene;
use crate::stats::consensus::quality_weight;
use crate::stats::proportion::wilson;
use crate::study::Invalid;
use crate::study::PresentationKind;
use crate::study::Ratings;

/// How a consensus is to be computed.
#[derive(Debug, Clone, PartialEq)]
pub struct ConsensusOptions {
    /// The value that shares count; absent: `correct`, else `1`.
    pub positive: Option<String>,
    /// The level of every interval, strictly between 0 and 1.
    pub confidence: f64,
    /// Pseudo-judgements in each cell of a rater's error rates; 0 is maximum likelihood.
    pub prior: f64,
}

/// What a panel says, in the fields and the order of the command line's contract.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Consensus {
    /// Each item.
    pub items: Vec<ItemConsensus>,
    /// Each rater.
    pub raters: Vec<RaterQuality>,
    /// The share of items in the positive class.
    pub prevalence: Option<f64>,
    /// Of the latent classes, without prior and constant.
    pub log_likelihood: Option<f64>,
    /// Of the start that was taken.
    pub iterations: Option<u32>,
    /// Whether it converged.
    pub converged: bool,
    /// The positive value.
    pub positive: String,
    /// Items whose interval holds one half, the most divided first.
    pub contested: Vec<String>,
    /// Starts that were tried, and how many ended at the likelihood taken.
    pub starts: Option<(u32, u32)>,
    /// Whether the two classes came out swapped and were exchanged.
    pub swapped: bool,
    /// What to keep in mind.
    pub cautions: Vec<&'static str>,
    /// Why a field is `null`.
    pub reasons: Reasons,
}

/// What a panel says of one item.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ItemConsensus {
    /// The item.
    pub item: String,
    /// Its judgements.
    pub judgements: u32,
    /// Of them positive.
    pub positive: u32,
    /// Their share: the primary figure.
    pub proportion: f64,
    /// Wilson.
    pub ci: [f64; 2],
    /// The value that more than half gave, or `tie`.
    pub majority: String,
    /// The probability that it is of the positive class.
    pub posterior: Option<f64>,
    /// Whether the interval holds one half.
    pub contested: bool,
}

/// How one rater errs, by the latent classes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RaterQuality {
    /// The rater.
    pub rater: String,
    /// Her judgements.
    pub judgements: usize,
    /// The probability that she calls a positive item positive.
    pub sensitivity: Option<f64>,
    /// The probability that she calls another item not positive.
    pub specificity: Option<f64>,
    /// Sensitivity plus specificity less 1, not below 0: what her judgements weigh where they are weighted by quality.
    pub weight: Option<f64>,
}

/// Said beside every latent class.
const CAUTION: &str = "The latent classes take raters to err independently given the class. On tokens between the two they do not, and the posterior is then too sure: the proportion is the primary figure.";

/// Computes the consensus of the main judgements.
///
/// # Errors
/// [`Invalid`] where it is not clear which of the values is positive.
pub fn consensus(ratings: &Ratings, options: &ConsensusOptions) -> Result<Consensus, Invalid> {
    let positive = Positive::of(&ratings.values, options.positive.as_deref())?;
    let rows: Vec<_> = ratings.of_kind(PresentationKind::Main).collect();
    let judged = Judged::of(ratings, &rows, 2, |value| u32::from(positive.is(value)))?;
    let config = Config {
        prior: options.prior,
        ..Config::default()
    };
    let mut reasons = Reasons::new();
    let fit = dawid_skene(&judged.table, config);
    if let Err(reason) = &fit {
        for field in [
            "prevalence",
            "log_likelihood",
            "iterations",
            "starts",
            "items",
            "raters",
        ] {
            reasons.say(field, reason);
        }
    }
    let fit = fit.ok();
    let items = items(&judged, &positive, fit.as_ref(), options.confidence);
    let mut contested: Vec<&ItemConsensus> = items.iter().filter(|item| item.contested).collect();
    contested.sort_by(|a, b| {
        let divided = |item: &ItemConsensus| (item.proportion - 0.5).abs();
        divided(a)
            .total_cmp(&divided(b))
            .then(b.judgements.cmp(&a.judgements))
    });
    Ok(Consensus {
        contested: contested
            .into_iter()
            .map(|item| item.item.clone())
            .collect(),
        raters: raters(&judged, fit.as_ref()),
        prevalence: fit.as_ref().and_then(|fit| fit.prevalence.get(1).copied()),
        log_likelihood: fit.as_ref().map(|fit| fit.log_likelihood),
        iterations: fit.as_ref().map(|fit| fit.iterations),
        converged: fit.as_ref().is_some_and(|fit| fit.converged),
        positive: positive.name(true).to_owned(),
        starts: fit.as_ref().map(|fit| fit.starts),
        swapped: fit.as_ref().is_some_and(|fit| fit.swapped),
        cautions: cautions(fit.as_ref()),
        items,
        reasons,
    })
}

fn items(
    judged: &Judged,
    positive: &Positive,
    fit: Option<&LatentClass>,
    confidence: f64,
) -> Vec<ItemConsensus> {
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let of_item = |(place, cells): (usize, &[crate::stats::table::Cell])| {
        let judgements = count(cells.len());
        let yes = count(cells.iter().filter(|cell| cell.category == 1).count());
        let ci = wilson(f64::from(yes), f64::from(judgements), confidence);
        let [low, high] = ci;
        ItemConsensus {
            item: judged.item(place).to_owned(),
            judgements,
            positive: yes,
            proportion: f64::from(yes) / f64::from(judgements),
            ci,
            majority: match (2 * yes).cmp(&judgements) {
                std::cmp::Ordering::Greater => positive.name(true).to_owned(),
                std::cmp::Ordering::Less => positive.name(false).to_owned(),
                std::cmp::Ordering::Equal => "tie".to_owned(),
            },
            posterior: fit.map(|fit| fit.probability(place, 1)),
            contested: low <= 0.5 && 0.5 <= high,
        }
    };
    judged.table.items().enumerate().map(of_item).collect()
}

fn raters(judged: &Judged, fit: Option<&LatentClass>) -> Vec<RaterQuality> {
    let by_rater = judged.table.by_rater();
    let of_rater = |(place, judgements): (usize, &Vec<(u32, u32)>)| {
        let sensitivity = fit.map(|fit| fit.error_rate(place, 1, 1));
        let specificity = fit.map(|fit| fit.error_rate(place, 0, 0));
        RaterQuality {
            rater: judged.raters().get(place).cloned().unwrap_or_default(),
            judgements: judgements.len(),
            sensitivity,
            specificity,
            weight: sensitivity
                .zip(specificity)
                .map(|(a, b)| quality_weight(a, b)),
        }
    };
    by_rater.iter().enumerate().map(of_rater).collect()
}

fn cautions(fit: Option<&LatentClass>) -> Vec<&'static str> {
    let Some(fit) = fit else {
        return Vec::new();
    };
    let mut cautions = vec![CAUTION];
    if !fit.converged {
        cautions.push("The latent classes did not converge: use the proportions.");
    }
    if fit.swapped {
        cautions.push("The two classes came out swapped and were named again by the labels that they mostly receive: most raters judge near chance.");
    }
    if fit.starts.1 < fit.starts.0 {
        cautions.push("Some starts ended elsewhere, at a lower likelihood: the latent classes are not well determined by these judgements.");
    }
    cautions
}
