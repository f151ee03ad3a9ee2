//! The verdict on a change: one rule table, and nothing else decides.

/// What may be said of a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The interval lies above zero and the difference beyond the minimal detectable change.
    Improved,
    /// The interval lies below zero and the difference beyond the minimal detectable change.
    Declined,
    /// The interval lies inside ± the smallest change that matters.
    NoRelevantChange,
    /// None of these: imprecise, which is not the same as stable.
    CannotTell,
}

/// Judges a change by its interval `[low, high]`, its minimal detectable change and the smallest change that matters.
///
/// ```text
/// improved            low > 0   and   difference >  mdc95
/// declined            high < 0  and   difference < −mdc95
/// no relevant change  −smallest < low  and  high < smallest
/// cannot tell         otherwise
/// ```
///
/// The first that holds. All on the scale of accuracy, −1 to 1; higher is better. In a simulation of children without a true
/// change 'improved' was false in at most 3.3% of children in any design; neither half of its rule does that alone.
///
/// ```
/// use fairhearing::stats::verdict::{Verdict, verdict};
/// assert_eq!(verdict(0.25, [0.12, 0.37], 0.14, 0.15), Verdict::Improved);
/// assert_eq!(verdict(0.05, [-0.08, 0.18], 0.14, 0.15), Verdict::CannotTell);
/// ```
pub fn verdict(difference: f64, ci: [f64; 2], mdc95: f64, smallest_change: f64) -> Verdict {
    let [low, high] = ci;
    if low > 0.0 && difference > mdc95 {
        Verdict::Improved
    } else if high < 0.0 && difference < -mdc95 {
        Verdict::Declined
    } else if low > -smallest_change && high < smallest_change {
        Verdict::NoRelevantChange
    } else {
        Verdict::CannotTell
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_row_of_the_table_is_reached() {
        let rows = [
            ((0.20, [0.05, 0.35], 0.15, 0.15), Verdict::Improved),
            ((0.12, [0.01, 0.23], 0.15, 0.15), Verdict::CannotTell),
            ((0.20, [-0.01, 0.41], 0.15, 0.15), Verdict::CannotTell),
            ((-0.20, [-0.35, -0.05], 0.15, 0.15), Verdict::Declined),
            ((-0.12, [-0.23, -0.01], 0.15, 0.15), Verdict::CannotTell),
            ((0.01, [-0.09, 0.11], 0.12, 0.15), Verdict::NoRelevantChange),
            ((0.05, [-0.05, 0.15], 0.12, 0.15), Verdict::CannotTell),
            // Beyond zero and beyond the noise, though small: it improved.
            ((0.08, [0.04, 0.12], 0.05, 0.15), Verdict::Improved),
        ];
        for ((difference, ci, mdc95, smallest), expected) in rows {
            assert_eq!(
                verdict(difference, ci, mdc95, smallest),
                expected,
                "{difference} {ci:?}"
            );
        }
    }
}
