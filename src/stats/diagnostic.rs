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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_intervals_are_those_of_a_printed_table() {
        // Newcombe (1998), Stat. Med. 17, 857-872, Table I, method 3: 81 of 263 gives .2553 to .3662, 15 of 148 .0624 to .1605.
        let table = AgainstReference {
            hits: 81,
            misses: 182,
            false_alarms: 133,
            rejections: 15,
        };
        let near = |found: [f64; 2], printed: [f64; 2]| {
            found
                .iter()
                .zip(printed)
                .all(|(one, other)| (one - other).abs() < 5e-5)
        };
        assert!(near(table.sensitivity(0.95).unwrap().ci, [0.2553, 0.3662]));
        assert!(near(table.specificity(0.95).unwrap().ci, [0.0624, 0.1605]));
    }

    #[test]
    fn a_reference_without_positives_tells_no_sensitivity() {
        let table = AgainstReference {
            rejections: 3,
            ..AgainstReference::default()
        };
        assert!(table.sensitivity(0.95).is_err());
        let specificity = table.specificity(0.95).unwrap();
        assert!((specificity.share - 1.0).abs() < 1e-12);
    }
}
