//! Precision: where the variance of judgements comes from, and what any panel and probe would give.
//!
//! Generalizability theory for judgements of words by listeners: words crossed with children or not, sessions within
//! children, listeners crossed with everything, any holes.
//!
//! Method: symmetric sums of squared differences (Koch 1967, 1968). For every way in which two judgements can share child,
//! session, word, token and listener, half their mean squared difference estimates the sum of the
//! components that they do **not** share; the components follow by one small linear system. Chosen because it is unbiased for
//! any holes and any distribution, 0/1 included, needs no iteration, costs one sort a kind of sharing, and equals the
//! analysis of variance where the design is balanced. A likelihood fit on the logit scale (a binomial mixed model by
//! Laplace's method) would not: its components live on another scale than the scores that are forecast.
//!
//! Koch (1967), Technometrics 9, 93–118; Koch (1968), Technometrics 10, 551–558; Brennan (2001), Generalizability Theory.

mod components;
mod forecast;
mod moments;

pub use components::Component;
pub use components::Components;
pub use components::Facet;
pub use components::components;
pub use forecast::Forecast;
pub use forecast::Probe;

/// One judgement, everything by number; sessions and tokens are numbered over all children.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Whose.
    pub child: u32,
    /// In which session.
    pub session: u32,
    /// Of which token.
    pub token: u32,
    /// Of which word; a token without one is a word of its own.
    pub word: Option<u32>,
    /// By which listener.
    pub listener: u32,
    /// The score: 0 or 1, or any number.
    pub value: f64,
}
