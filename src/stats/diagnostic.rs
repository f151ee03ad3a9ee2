//! One way of judging held against a reference: sensitivity and specificity.

use super::Undefined;
use super::proportion::wilson;

/// A 2 × 2 table of one way of judging against a reference, 'positive' being the signal.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct AgainstReference {
    /// Positive by both.
    pub hits: usize,
    /// Positive by the reference alone.
    pub misses: usize,
    /// Positive by the other alone.
    pub false_alarms: usize,
    /// Negative by both.
    pub rejections: usize,
}

/// A share of a table's row, with Wilson's interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Caught {
    /// The share.
    pub share: f64,
    /// Where the true share lies.
    pub ci: [f64; 2],
}

impl AgainstReference {
    /// Of the items that the reference calls positive, the share that is called so: hits / (hits + misses).
    ///
    /// `confidence` is the two-sided level of Wilson's interval. No unit; 0 to 1. Altman & Bland (1994), BMJ 308, 1552.
    ///
    /// # Errors
    /// [`Undefined::NoJudgements`] where the reference calls nothing positive.
    ///
    /// ```
    /// use fairhearing::stats::diagnostic::AgainstReference;
    /// // Liver scans: 231 of 258 with disease were abnormal, 54 of 86 without it normal (from memory of that paper).
    /// let scans = AgainstReference { hits: 231, misses: 27, false_alarms: 32, rejections: 54 };
    /// assert_eq!((scans.sensitivity(0.95)?.share * 100.0).round(), 90.0);
    /// assert_eq!((scans.specificity(0.95)?.share * 100.0).round(), 63.0);
    /// # Ok::<(), fairhearing::stats::Undefined>(())
    /// ```
    pub fn sensitivity(self, confidence: f64) -> Result<Caught, Undefined> {
        caught(self.hits, self.misses, confidence)
    }

    /// Of the items that the reference calls negative, the share that is called so: rejections / (rejections + false alarms).
    ///
    /// # Errors
    /// [`Undefined::NoJudgements`] where the reference calls nothing negative.
    pub fn specificity(self, confidence: f64) -> Result<Caught, Undefined> {
        caught(self.rejections, self.false_alarms, confidence)
    }
}

fn caught(right: usize, wrong: usize, confidence: f64) -> Result<Caught, Undefined> {
    let n = (right + wrong) as f64;
    if right + wrong == 0 {
        return Err(Undefined::NoJudgements);
    }
    Ok(Caught {
        share: right as f64 / n,
        ci: wilson(right as f64, n, confidence),
    })
}
