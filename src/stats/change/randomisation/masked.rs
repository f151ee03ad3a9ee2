//! Masked visual analysis: how near an analyst's marks come to the starts that were drawn, among all that could have been.

use rand::Rng;

use super::Order;
use super::RandomisationTest;
use super::start_points::Windows;
use super::start_points::before;
use crate::stats::change::ChangeError;

/// A graph in which somebody who did not know the start marked where a change began.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkedStart {
    /// The session of each point of the graph.
    pub sessions: Vec<usize>,
    /// The first point after the change, counted from 1; nothing where no change was seen.
    pub mark: Option<usize>,
    /// The sessions at which treatment could have begun.
    pub allowed: Vec<usize>,
    /// The session at which it began.
    pub start: usize,
}

impl MarkedStart {
    /// By how many points the mark misses the first point of a treatment that starts at that session. Where no change was seen:
    /// by as many as the graph has, whatever the start, so that such a graph tells no draw from another.
    pub fn missed_by(&self, start: usize) -> usize {
        let first = before(&self.sessions, start) + 1;
        self.mark
            .map_or(self.sessions.len(), |mark| mark.abs_diff(first))
    }
}

/// The exact masked p: whether marks made without knowing the starts come nearer to them than chance would.
///
/// ```text
/// D(s) = Σ_i |m_i − s_i|        p = #{possible draws s : D(s) ≤ D(drawn)} / #{possible draws}
/// ```
///
/// `m_i`: the first point after the change that was marked in graph i; `s_i`: the first point of treatment there, both counted
/// from 1; where no change was marked the term is the number of points, the same in every draw. Ties count, the drawn
/// starts among them. `observed` of the result is −D(drawn), so that above is nearer. The analyst did not know the draw, and
/// every possible draw was equally likely: so p ≤ α in at most α of studies whatever the analyst's way of looking, as long
/// as treatment does nothing. Above 10⁶ draws a hundred thousand are drawn, and p is (b + 1)/(B + 1).
///
/// The idea of graphs judged masked: Ferron et al. (2017), by `methods`. A p from the analyst's answer among all assignments:
/// Ferron & Jones (2006), J. Exp. Educ. 75, 66–81 (from memory). This statistic: ours.
///
/// # Errors
/// [`ChangeError::NotPossible`] where a start was not among the allowed ones; [`ChangeError::TooFew`] without graphs.
pub fn masked_test(
    cases: &[MarkedStart],
    order: Order,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let windows = Windows::of(
        order,
        cases
            .iter()
            .map(|case| (case.allowed.as_slice(), case.start)),
    )?;
    let nearness = |place: usize, start: usize| {
        let missed = cases.get(place).map(|case| case.missed_by(start));
        missed.map_or(f64::NAN, |missed| -(missed as f64))
    };
    windows.test(1.0, nearness, rng)
}
