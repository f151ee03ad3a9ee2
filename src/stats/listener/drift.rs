//! Does a listener become stricter or milder as she goes on?

use super::super::Undefined;
use super::super::special::ChiSquared;

/// Fewer judgements than this show no drift.
const FEWEST_JUDGEMENTS: usize = 10;

/// Steps after which the fit is given up; it needs about ten.
const MOST_STEPS: usize = 100;

/// A listener's drift over the places of her order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// The change of the log odds of 'positive' over 100 places; above 0 she becomes milder.
    pub slope_per_100: f64,
    /// Against no drift, two-sided.
    pub p: f64,
}

/// Drift: the slope of a logistic regression of 'positive' on the place in the listener's order.
///
/// ```text
/// logit P(positive at x) = a + b·x,   maximising  ℓ(a, b) + ½ ln |I(a, b)|
/// p from 2[ℓ*(â, b̂) − ℓ*(ã, 0)] on χ² with 1 degree of freedom,   ã = logit((k + 1)/(n + 2))
/// ```
///
/// `judgements`: place (in places) and whether positive. The penalty is Jeffreys' prior: the slope stays finite where the answers split
/// cleanly at one place, which is just the listener one wants to see. Phases are spread evenly over places, so a true change of the
/// children cannot look like drift. Log odds over 100 places.
///
/// Firth (1993), Biometrika 80, 27–38; test: Heinze & Schemper (2002), Stat. Med. 21, 2409–2419.
///
/// # Errors
/// [`Undefined::FewJudgements`] below ten judgements or where all stand in one place, [`Undefined::OneAnswer`] where all are alike,
/// [`Undefined::NoConvergence`] where the fit finds no end.
pub fn drift(judgements: &[(f64, bool)]) -> Result<Drift, Undefined> {
    let n = judgements.len() as f64;
    if judgements.len() < FEWEST_JUDGEMENTS {
        return Err(Undefined::FewJudgements);
    }
    let positive = judgements.iter().filter(|(_, yes)| *yes).count() as f64;
    if positive <= 0.0 || positive >= n {
        return Err(Undefined::OneAnswer);
    }
    let mean = judgements.iter().map(|(x, _)| x).sum::<f64>() / n;
    // In hundreds of places about their mean: the two coefficients are then of one size and nearly uncorrelated.
    let points: Vec<(f64, f64)> = judgements
        .iter()
        .map(|&(x, yes)| ((x - mean) / 100.0, f64::from(u8::from(yes))))
        .collect();
    if points.iter().all(|(x, _)| x.abs() < 1e-12) {
        return Err(Undefined::FewJudgements);
    }
    let share = (positive + 1.0) / (n + 2.0);
    let null = (share / (1.0 - share)).ln();
    let at_null = Fit::at(&points, null, 0.0);
    let fitted = maximise(&points, at_null)?;
    let ratio = (2.0 * (fitted.penalised - at_null.penalised)).max(0.0);
    Ok(Drift {
        slope_per_100: fitted.slope,
        p: ChiSquared::new(1.0).map_or(f64::NAN, |chi| chi.sf(ratio)),
    })
}

/// The penalised likelihood at one pair of coefficients, with its score and information.
#[derive(Debug, Clone, Copy)]
struct Fit {
    intercept: f64,
    slope: f64,
    penalised: f64,
    score: [f64; 2],
    /// Entries 11, 12, 22 of the information.
    information: [f64; 3],
}

impl Fit {
    fn at(points: &[(f64, f64)], intercept: f64, slope: f64) -> Self {
        let share = |x: f64| 1.0 / (1.0 + (-(intercept + slope * x)).exp());
        let [mut i11, mut i12, mut i22] = [0.0; 3];
        let mut likelihood = 0.0;
        for &(x, y) in points {
            let linear = intercept + slope * x;
            let weight = share(x) * (1.0 - share(x));
            i11 += weight;
            i12 += weight * x;
            i22 += weight * x * x;
            // ln(1 + eᵘ) without overflow
            likelihood += y * linear - linear.max(0.0) - (-linear.abs()).exp().ln_1p();
        }
        let determinant = i11 * i22 - i12 * i12;
        let mut score = [0.0; 2];
        for &(x, y) in points {
            let mu = share(x);
            let weight = mu * (1.0 - mu);
            let leverage = weight * (i22 - 2.0 * x * i12 + x * x * i11) / determinant;
            let residual = y - mu + leverage * (0.5 - mu);
            score = [score[0] + residual, score[1] + residual * x];
        }
        Self {
            intercept,
            slope,
            penalised: likelihood + 0.5 * determinant.ln(),
            score,
            information: [i11, i12, i22],
        }
    }

    /// Newton's step with the information for the curvature.
    fn step(&self) -> [f64; 2] {
        let ([a, b], [i11, i12, i22]) = (self.score, self.information);
        let determinant = i11 * i22 - i12 * i12;
        [
            (i22 * a - i12 * b) / determinant,
            (i11 * b - i12 * a) / determinant,
        ]
    }
}

fn maximise(points: &[(f64, f64)], start: Fit) -> Result<Fit, Undefined> {
    let mut fit = start;
    for _ in 0..MOST_STEPS {
        let [da, db] = fit.step();
        if da.abs().max(db.abs()) < 1e-9 {
            return Ok(fit);
        }
        // Half a step until the likelihood grows; a slope moves by 5 at most.
        let mut length = (5.0 / db.abs()).min(1.0);
        let mut next = Fit::at(points, fit.intercept + length * da, fit.slope + length * db);
        while next.penalised.is_nan() || next.penalised < fit.penalised - 1e-12 {
            length /= 2.0;
            if length < 1e-10 {
                return Ok(fit);
            }
            next = Fit::at(points, fit.intercept + length * da, fit.slope + length * db);
        }
        fit = next;
    }
    Err(Undefined::NoConvergence)
}
