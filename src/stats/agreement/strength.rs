//! Words for a coefficient, from its error and never from the estimate alone.

use super::super::special::normal;

/// A published scale of words: a convention, no more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrengthScale {
    /// Landis & Koch (1977), Biometrics 33, 159–174, for kappa-like coefficients.
    LandisKoch,
    /// Koo & Li (2016), J. Chiropr. Med. 15, 155–163, for intraclass correlations.
    KooLi,
}

/// A word with the probability that the true coefficient deserves it or a better one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// The word.
    pub word: &'static str,
    /// The probability that the coefficient lies in that range or above, at least .95.
    pub probability: f64,
}

impl StrengthScale {
    /// The scale's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::LandisKoch => "Landis & Koch 1977",
            Self::KooLi => "Koo & Li 2016",
        }
    }

    /// The word for a value; for an end of an interval, never for an estimate alone.
    pub fn word(self, value: f64) -> &'static str {
        let step = self.steps().iter().find(|(low, _)| value >= *low);
        step.map_or("poor", |(_, word)| word)
    }

    /// Lower ends with their words, best first.
    const fn steps(self) -> &'static [(f64, &'static str)] {
        match self {
            Self::LandisKoch => &[
                (0.8, "almost perfect"),
                (0.6, "substantial"),
                (0.4, "moderate"),
                (0.2, "fair"),
                (0.0, "slight"),
                (-1.0, "poor"),
            ],
            Self::KooLi => &[
                (0.9, "excellent"),
                (0.75, "good"),
                (0.5, "moderate"),
                (-1.0, "poor"),
            ],
        }
    }
}

/// The best word that the coefficient deserves with a probability above .95, its error considered.
///
/// ```text
/// P(κ ≥ a) = [Φ((κ̂ − a)/se) − Φ((κ̂ − 1)/se)] / [Φ((κ̂ + 1)/se) − Φ((κ̂ − 1)/se)]
/// ```
///
/// Benchmarking of Gwet (2014), Handbook of Inter-Rater Reliability, 4th ed., chapter 6. `None` unless `se` is above 0.
///
/// ```
/// use fairhearing::stats::agreement::{strength, StrengthScale};
/// // .65 is "substantial" by its estimate; with an error of .12 only "moderate" is sure
/// assert_eq!(strength(0.65, 0.12, StrengthScale::LandisKoch).unwrap().word, "moderate");
/// ```
pub fn strength(estimate: f64, se: f64, scale: StrengthScale) -> Option<Strength> {
    if !(se > 0.0 && se.is_finite() && estimate.is_finite()) {
        return None;
    }
    let beyond_one = normal::cdf((estimate - 1.0) / se);
    let whole = normal::cdf((estimate + 1.0) / se) - beyond_one;
    scale.steps().iter().find_map(|&(low, word)| {
        let probability = (normal::cdf((estimate - low) / se) - beyond_one) / whole;
        (probability > 0.95).then_some(Strength { word, probability })
    })
}
