//! The power terms of the binomial and the Poisson distribution, by the saddle-point form of Loader (2000).
//!
//! Loader, C. (2000): Fast and accurate computation of binomial probabilities. Written as deviances from the
//! mean, the terms lose no digits where factorials and powers of many thousands would cancel.

use std::f64::consts::PI;

/// ln[ Γ(a+b+1) / (Γ(a+1) Γ(b+1)) · x^a · y^b ] with y = 1 − x given apart, for real a, b > 0.
pub(super) fn ln_binomial_term(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance(a, n * x)
        - deviance(b, n * y)
        + 0.5 * (n / (2.0 * PI * a) / b).ln()
}

/// ln[ x^a · e^(−x) / Γ(a+1) ] for real a > 0.
pub(super) fn ln_poisson_term(a: f64, x: f64) -> f64 {
    -stirling_error(a) - deviance(a, x) - 0.5 * (2.0 * PI * a).ln()
}

/// δ(n) = ln Γ(n+1) − [(n + ½) ln n − n + ½ ln 2π]: how far Stirling's formula is out.
fn stirling_error(n: f64) -> f64 {
    const SERIES: [f64; 7] = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    if n < 15.0 {
        return libm::lgamma(n + 1.0) - (n + 0.5) * n.ln() + n - 0.5 * (2.0 * PI).ln();
    }
    let square = n * n;
    SERIES
        .iter()
        .rev()
        .fold(0.0, |sum, coefficient| sum / square + coefficient)
        / n
}

/// D(x, m) = x ln(x/m) + m − x ≥ 0: the deviance of x from a mean m; a series where the two are close.
fn deviance(x: f64, m: f64) -> f64 {
    let gap = x - m;
    if gap.abs() >= 0.1 * (x + m) {
        return x * (x / m).ln() - gap;
    }
    let v = gap / (x + m);
    let mut sum = gap * v;
    let mut power = 2.0 * x * v;
    for odd in (3_u32..2_000).step_by(2) {
        power *= v * v;
        let next = sum + power / f64::from(odd);
        if (next - sum).abs() <= f64::EPSILON * 0.25 * next.abs() {
            break;
        }
        sum = next;
    }
    sum
}
