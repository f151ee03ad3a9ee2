//! The regularised incomplete beta and gamma functions, both tails, as logarithms.

use super::LnTails;
use super::power::ln_binomial_term;
use super::power::ln_poisson_term;

/// Steps after which a continued fraction is as good as it gets; √max(a, b) and a few are needed.
const MAX_STEPS: u32 = 200_000;

/// Keeps Lentz's divisions away from zero.
const TINY: f64 = 1e-300;

/// `I_x(a, b)` and 1 − `I_x(a, b)`, with y = 1 − x given apart so that neither end loses digits.
///
/// Lentz's continued fraction where x is below (a+1)/(a+b+2), its mirror image elsewhere.
/// *Handbook of Mathematical Functions* (Abramowitz & Stegun 1964), 26.5.8.
pub(super) fn ln_beta_tails(a: f64, b: f64, x: f64, y: f64) -> LnTails {
    if x.is_nan() || y.is_nan() {
        LnTails::UNDEFINED
    } else if x <= 0.0 {
        LnTails::AT_START
    } else if y <= 0.0 {
        LnTails::AT_END
    } else if x < (a + 1.0) / (a + b + 2.0) {
        LnTails::from_lower(ln_beta_lower(a, b, x, y))
    } else {
        LnTails::from_upper(ln_beta_lower(b, a, y, x))
    }
}

fn ln_beta_lower(a: f64, b: f64, x: f64, y: f64) -> f64 {
    ln_binomial_term(a, b, x, y) + (b / (a + b)).ln() + beta_fraction(a, b, x).ln()
}

fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..MAX_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for numerator in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + numerator * d);
            c = away_from_zero(1.0 + numerator / c);
            fraction *= d * c;
            change = d * c;
        }
        if (change - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

/// P(a, x) = γ(a, x)/Γ(a) and 1 − P(a, x).
///
/// The power series where x is below a + 1, Lentz's continued fraction elsewhere.
/// *Handbook of Mathematical Functions* (Abramowitz & Stegun 1964), 6.5.29 and 6.5.31.
pub(super) fn ln_gamma_tails(a: f64, x: f64) -> LnTails {
    if x.is_nan() {
        LnTails::UNDEFINED
    } else if x <= 0.0 {
        LnTails::AT_START
    } else if x.is_infinite() {
        LnTails::AT_END
    } else if x < a + 1.0 {
        LnTails::from_lower(ln_poisson_term(a, x) + gamma_series(a, x).ln())
    } else {
        LnTails::from_upper(ln_poisson_term(a, x) + a.ln() + gamma_fraction(a, x).ln())
    }
}

fn gamma_series(a: f64, x: f64) -> f64 {
    let mut term = 1.0;
    let mut sum = 1.0;
    for step in 1..MAX_STEPS {
        term *= x / (a + f64::from(step));
        sum += term;
        if term < sum * f64::EPSILON {
            break;
        }
    }
    sum
}

fn gamma_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / away_from_zero(b);
    let mut fraction = d;
    for step in 1..MAX_STEPS {
        let m = f64::from(step);
        let numerator = -m * (m - a);
        b += 2.0;
        d = 1.0 / away_from_zero(numerator * d + b);
        c = away_from_zero(b + numerator / c);
        let change = d * c;
        fraction *= change;
        if (change - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < TINY { TINY } else { value }
}
