//! The measures of change as lines of a table.

use super::columns::interval;
use super::columns::number;
use crate::analysis::Effects;

/// One row a measure: name, estimate, interval.
pub(super) fn rows(effects: &Effects) -> Vec<Vec<String>> {
    let alone = String::new;
    [
        ("NAP", effects.nap.estimate, interval(effects.nap.ci)),
        ("Tau", effects.tau.estimate, interval(effects.tau.ci)),
        ("Tau-U", effects.tau_u.estimate, alone()),
        ("PND", effects.pnd, alone()),
        (
            "log odds ratio",
            effects.log_odds_ratio.estimate,
            interval(effects.log_odds_ratio.ci),
        ),
        (
            "log response ratio",
            effects.log_response_ratio.estimate,
            interval(effects.log_response_ratio.ci),
        ),
        (
            "SMD, baseline",
            effects.smd.estimate,
            interval(effects.smd.ci),
        ),
        (
            "SMD, pooled",
            effects.smd_pooled.estimate,
            interval(effects.smd_pooled.ci),
        ),
        (
            "lag-1 autocorrelation",
            effects.lag1_autocorrelation,
            alone(),
        ),
    ]
    .into_iter()
    .map(|(name, estimate, limits)| vec![format!("  {name}"), number(estimate), limits])
    .collect()
}
