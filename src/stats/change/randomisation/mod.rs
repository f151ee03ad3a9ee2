//! Randomisation tests for single cases: only for the assignment that was really drawn, among those that were possible.
//!
//! `draws` counts what a draw could have yielded, and is what the draw itself is made from. The designs, a file each: a
//! start point drawn for each case (also staggered over cases), phase changes drawn within a case (ABAB), conditions that
//! alternate from session to session, the marks of somebody who did not know the starts (`masked`), and whatever adds up over the parts of a draw (`parts`). Up to 10⁶ assignments are listed, else
//! a hundred thousand drawn. The statistic is the mean over cases of (mean under treatment − mean without it).
//! Bulté & Onghena (2008), Behav. Res. Methods 40, 467–478; Levin, Ferron & Gafurov (2018) compare the reference sets.

mod alternation;
mod draws;
mod masked;
mod parts;
mod phase_changes;
mod start_points;

pub use alternation::Alternation;
pub use alternation::alternation_test;
pub use draws::Draws;
pub use draws::DrawsError;
pub use draws::Part;
pub use masked::MarkedStart;
pub use masked::masked_test;
pub use parts::drawn_test;
pub use phase_changes::PhaseChanges;
pub use phase_changes::phase_change_test;
pub use start_points::Order;
pub use start_points::StartPoints;
pub use start_points::start_point_test;

use rand::Rng;
use rand::RngExt;

use super::permutation::Tally;

/// Where the observed statistic stands among those of all assignments that were possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RandomisationTest {
    /// The statistic of the assignment that was drawn, in the score's unit; above 0 is for the better.
    pub observed: f64,
    /// One-sided: the share of assignments with a statistic at least as good.
    pub p: f64,
    /// The share of assignments with a statistic at least as far from 0.
    pub p_two_sided: f64,
    /// The smallest one-sided p that this design could have given.
    pub smallest_p: f64,
    /// The smallest two-sided one: twice that where every assignment has its mirror image among the possible ones.
    pub smallest_p_two_sided: f64,
    /// How many assignments were possible.
    pub assignments: f64,
    /// Whether all were listed; else (b + 1)/(B + 1) is given.
    pub exact: bool,
}

impl RandomisationTest {
    fn new(tally: &Tally, observed: f64, assignments: f64, mirrored: bool) -> Self {
        let test = tally.test(observed, assignments, 1.0);
        let ways = if mirrored { 2.0 } else { 1.0 };
        Self {
            smallest_p_two_sided: tally.test(observed, assignments, ways).smallest_p,
            observed,
            p: test.p_greater,
            p_two_sided: test.p_two_sided,
            smallest_p: test.smallest_p,
            assignments,
            exact: test.exact,
        }
    }
}

/// Fisher and Yates' shuffle.
fn shuffle<T>(items: &mut [T], rng: &mut impl Rng) {
    for place in (1..items.len()).rev() {
        let other = rng.random_range(0..=place);
        items.swap(place, other);
    }
}
