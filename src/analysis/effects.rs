//! The measures of change between two phases of scores, side by side.

use serde::Serialize;

use super::Reasons;
use crate::stats::change;
use crate::stats::change::Better;
use crate::stats::change::LogRatio;
use crate::stats::change::Nap;
use crate::stats::change::Smd;

/// Every measure of change beside the difference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effects {
    /// Nonoverlap of all pairs.
    pub nap: NapFinding,
    /// 2·NAP − 1.
    pub tau: NapFinding,
    /// Less the baseline's trend; without interval, for it has no sampling distribution.
    pub tau_u: EstimateFinding,
    /// Later points beyond the best earlier one; without interval.
    pub pnd: Option<f64>,
    /// On the scale of odds.
    pub log_odds_ratio: RatioFinding,
    /// As a proportion of the earlier mean.
    pub log_response_ratio: RatioFinding,
    /// In standard deviations of the baseline.
    pub smd: SmdFinding,
    /// In standard deviations within phases.
    pub smd_pooled: SmdFinding,
    /// Whether neighbouring sessions resemble each other.
    pub lag1_autocorrelation: Option<f64>,
}

/// An estimate alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EstimateFinding {
    /// The estimate.
    pub estimate: Option<f64>,
}

/// NAP or Tau.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NapFinding {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Its standard error, never 0.
    pub se: Option<f64>,
    /// Newcombe's method 5, scores as exact.
    pub ci: Option<[f64; 2]>,
    /// Scores and sessions resampled, each score with its own error.
    pub ci_resampled: Option<[f64; 2]>,
}

/// A log ratio.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RatioFinding {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Its standard error.
    pub se: Option<f64>,
    /// Its interval.
    pub ci: Option<[f64; 2]>,
    /// The smallest mean that the earlier phase could show.
    pub floor: Option<f64>,
}

/// A standardised difference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SmdFinding {
    /// The estimate.
    pub estimate: Option<f64>,
    /// Its standard error.
    pub se: Option<f64>,
    /// Its interval.
    pub ci: Option<[f64; 2]>,
    /// Whose standard deviation it is measured in.
    pub scaled_by: &'static str,
}

/// Two phases of scores in order of time.
pub(super) struct Phases<'a> {
    pub(super) from: &'a [f64],
    pub(super) to: &'a [f64],
    pub(super) better: Better,
    /// Words behind a score that is a share.
    pub(super) items: Option<f64>,
    pub(super) confidence: f64,
    /// NAP resampled, where that was asked for.
    pub(super) nap_resampled: Option<[f64; 2]>,
}

/// Computes every measure; what cannot be computed is noted in `reasons`.
pub(super) fn effects(phases: &Phases<'_>, reasons: &mut Reasons) -> Effects {
    let (from, to) = (phases.from, phases.to);
    let (better, confidence) = (phases.better, phases.confidence);
    let nap = reasons.keep("nap", change::nap(from, to, better, confidence));
    if nap.is_none() {
        reasons.say("tau", "Tau is NAP on another scale");
    } else if nap.is_some_and(|nap| nap.se.is_none()) {
        reasons.say("nap.se", "a phase has one session only");
        reasons.say("tau.se", "a phase has one session only");
    }
    if phases.nap_resampled.is_none() {
        for field in ["nap.ci_resampled", "tau.ci_resampled"] {
            reasons.say(
                field,
                "no resamples were asked for, or there is nothing to resample",
            );
        }
    }
    let items = phases.items;
    let odds = items.map(|items| change::log_odds_ratio(from, to, better, items, confidence));
    let odds = match odds {
        Some(odds) => reasons.keep("log_odds_ratio", odds),
        None => {
            reasons.say(
                "log_odds_ratio",
                "odds need shares and the number of items behind each",
            );
            None
        }
    };
    let ratio = change::log_response_ratio(from, to, better, items, confidence);
    let ratio = reasons.keep("log_response_ratio", ratio);
    if ratio.is_some_and(|ratio| ratio.floor.is_none()) {
        reasons.say(
            "log_response_ratio.floor",
            "the number of items behind a score is not known",
        );
    }
    let smd = reasons.keep("smd", change::smd_baseline(from, to, better, confidence));
    let pooled = reasons.keep(
        "smd_pooled",
        change::smd_pooled(from, to, better, confidence),
    );
    let lag1 = reasons.keep(
        "lag1_autocorrelation",
        change::lag1_autocorrelation(&[from, to]),
    );
    Effects {
        nap: nap_finding(nap, phases.nap_resampled),
        tau: nap_finding(
            nap.map(Nap::as_tau),
            phases
                .nap_resampled
                .map(|ci| ci.map(|limit| 2.0 * limit - 1.0)),
        ),
        tau_u: EstimateFinding {
            estimate: reasons.keep("tau_u", change::tau_u(from, to, better)),
        },
        pnd: reasons.keep("pnd", change::pnd(from, to, better)),
        log_odds_ratio: ratio_finding(odds),
        log_response_ratio: ratio_finding(ratio),
        smd: smd_finding(smd, "baseline"),
        smd_pooled: smd_finding(pooled, "pooled"),
        lag1_autocorrelation: lag1,
    }
}

fn nap_finding(nap: Option<Nap>, ci_resampled: Option<[f64; 2]>) -> NapFinding {
    NapFinding {
        estimate: nap.map(|nap| nap.estimate),
        se: nap.and_then(|nap| nap.se),
        ci: nap.map(|nap| nap.ci),
        ci_resampled,
    }
}

fn ratio_finding(ratio: Option<LogRatio>) -> RatioFinding {
    RatioFinding {
        estimate: ratio.map(|ratio| ratio.estimate),
        se: ratio.map(|ratio| ratio.se),
        ci: ratio.map(|ratio| ratio.ci),
        floor: ratio.and_then(|ratio| ratio.floor),
    }
}

fn smd_finding(smd: Option<Smd>, scaled_by: &'static str) -> SmdFinding {
    SmdFinding {
        estimate: smd.map(|smd| smd.estimate),
        se: smd.map(|smd| smd.se),
        ci: smd.map(|smd| smd.ci),
        scaled_by,
    }
}
