//! Quantiles: a bracketed search on the smaller log tail, so that p = 1e-300 costs no digits.

use super::LnTails;
use crate::stats::root;

/// Nothing of use lies beyond: e^±1400 is no longer a float, nor is its square root's reciprocal.
const FARTHEST: f64 = 1_400.0;

/// The θ at which the lower tail is `p`, for tails that are monotone in θ over the whole line.
///
/// θ is a logit or a logarithm, so that tiny values keep their digits. The search compares logarithms
/// of the smaller of the two tails, inside a bracket that is found first.
/// The caller has dealt with p ≤ 0 and p ≥ 1.
pub(super) fn theta_at(p: f64, tails: impl Fn(f64) -> LnTails) -> f64 {
    if p <= 0.5 {
        let aim = p.ln();
        rising_root(|theta| tails(theta).lower - aim)
    } else {
        let aim = (-p).ln_1p();
        rising_root(|theta| aim - tails(theta).upper)
    }
}

/// The quantile at p = 0 or 1, or not a number where `p` is no probability; nothing inside the range.
pub(super) fn end_of_range(p: f64, start: f64, end: f64) -> Option<f64> {
    match p {
        _ if !(0.0..=1.0).contains(&p) => Some(f64::NAN),
        _ if p <= 0.0 => Some(start),
        _ if p >= 1.0 => Some(end),
        _ => None,
    }
}

/// The zero of a function that rises over the whole line.
fn rising_root(f: impl Fn(f64) -> f64) -> f64 {
    let (low, high) = bracket(&f);
    root::rising(low, high, f)
}

/// Two places, a step apart that doubles, between which the sign changes (or the ends of the line).
fn bracket(f: &impl Fn(f64) -> f64) -> (f64, f64) {
    let rising_here = f(0.0) < 0.0;
    let mut near = 0.0;
    let mut step = 1.0;
    loop {
        let far: f64 = if rising_here { step } else { -step };
        let passed = if rising_here {
            f(far) >= 0.0
        } else {
            f(far) <= 0.0
        };
        if passed || step >= FARTHEST {
            return if rising_here {
                (near, far)
            } else {
                (far, near)
            };
        }
        near = far;
        step *= 2.0;
    }
}
