//! The covariance of two judgements that share a part of their latent causes.

use std::f64::consts::TAU;

use crate::stats::root;
use crate::stats::special::normal;

/// Nodes and weights of the 8-point Gauss–Legendre rule on [0, 1] (Abramowitz & Stegun 1964, table 25.4, halved).
const NODES: [(f64, f64); 8] = [
    (0.019_855_071_751_231_856, 0.050_614_268_145_188_13),
    (0.101_666_761_293_186_64, 0.111_190_517_226_687_18),
    (0.237_233_795_041_835_5, 0.156_853_322_938_943_65),
    (0.408_282_678_752_175_1, 0.181_341_891_689_180_98),
    (0.591_717_321_247_824_8, 0.181_341_891_689_180_98),
    (0.762_766_204_958_164_5, 0.156_853_322_938_943_65),
    (0.898_333_238_706_813_4, 0.111_190_517_226_687_18),
    (0.980_144_928_248_768_1, 0.050_614_268_145_188_13),
];

/// Correlations are sought up to here; a panel never shows more.
const LARGEST: f64 = 0.95;

/// An accuracy with its probit, which is the costly part.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Accuracy {
    /// p.
    pub(crate) p: f64,
    probit: f64,
}

impl Accuracy {
    pub(crate) fn new(p: f64) -> Self {
        Self {
            p,
            probit: normal::quantile(p.clamp(1e-7, 1.0 - 1e-7)),
        }
    }

    /// p(1 − p).
    pub(crate) fn variance(self) -> f64 {
        self.p * (1.0 - self.p)
    }

    /// C(p, p; r).
    pub(crate) fn shared(self, curve: &Curve) -> f64 {
        curve.covariance(self, self)
    }
}

/// The integrand of C(p, q; r) at one correlation r ≥ 0, shared by all accuracies: the sines are the costly part.
///
/// C(p, q; r) = (1/2π) ∫₀^{asin r} exp(−(a² + b² − 2ab sin θ) / (2 cos² θ)) dθ, a = Φ⁻¹(p), b = Φ⁻¹(q).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Curve {
    angle: f64,
    /// sin θ, 1/(2 cos² θ) and the weight of each node.
    nodes: [(f64, f64, f64); 8],
}

impl Curve {
    pub(crate) fn at(r: f64) -> Self {
        let angle = r.clamp(0.0, 0.98).asin();
        Self {
            angle,
            nodes: NODES.map(|(node, weight)| {
                let (sine, cosine) = (angle * node).sin_cos();
                (sine, 0.5 / (cosine * cosine), weight)
            }),
        }
    }

    /// The covariance of two 0/1 judgements with means p and q whose probits correlate r.
    pub(crate) fn covariance(&self, p: Accuracy, q: Accuracy) -> f64 {
        if self.angle <= 0.0 {
            return 0.0;
        }
        let (a, b) = (p.probit, q.probit);
        let squares = a * a + b * b;
        let product = 2.0 * a * b;
        let sum: f64 = self
            .nodes
            .iter()
            .map(|(sine, scale, weight)| weight * (-(squares - product * sine) * scale).exp())
            .sum();
        self.angle / TAU * sum
    }
}

/// A pair of accuracies with the weight that it has in a pooled equation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term {
    pub(super) p: Accuracy,
    pub(super) q: Accuracy,
    pub(super) weight: f64,
}

/// The r in [0, .95] with Σ weight · C(p, q; r) = `target`; 0 where the target is not above 0.
pub(super) fn correlation(terms: &[Term], target: f64) -> f64 {
    if target <= 0.0 {
        return 0.0;
    }
    root::rising(0.0, LARGEST, |r| {
        if r <= 0.0 {
            return -target;
        }
        let curve = Curve::at(r);
        let covariances = terms
            .iter()
            .map(|term| term.weight * curve.covariance(term.p, term.q));
        covariances.sum::<f64>() - target
    })
}
