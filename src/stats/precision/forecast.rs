//! What any panel and probe would give, from the components.

use super::components::Components;
use super::components::Facet;
use crate::stats::special::normal;

/// A panel and a probe: every listener judges every word of a session; the same words and listeners each time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// Listeners, above 0.
    pub listeners: f64,
    /// Words a session, above 0.
    pub words: f64,
    /// Sessions in each of the two phases that a change compares, above 0.
    pub sessions: f64,
}

/// What to expect of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// The standard error of a session's score for new words and new listeners.
    pub se: f64,
    /// The share of the scores' variance that is of children and sessions: Brennan's Φ; nothing where none was seen.
    pub dependability: Option<f64>,
    /// 1.96 standard errors of a change between two phases without one, good and bad days included where they were seen.
    pub mdc95: f64,
}

impl Components {
    /// Forecasts the error of a panel and a probe.
    ///
    /// ```text
    /// se²  = (word + word×child + token)/T + (listener + listener×child + listener×session)/L
    ///        + (listener×word + listener×word×child + residual)/(T·L)
    /// Φ    = (child + session)/(child + session + se²)
    /// mdc95 = 1.96 √[2/n · (session + token/T + listener×session/L + residual/(T·L))]
    /// ```
    ///
    /// Components below 0 count as 0. In `mdc95` what the same words and listeners bring to both phases cancels; what the
    /// pilot could not tell apart from what does not cancel is counted as if it did not. Brennan (2001), ch. 4.
    pub fn forecast(&self, probe: Probe) -> Forecast {
        let of = |facets: &[Facet]| facets.iter().map(|facet| self.used(*facet)).sum::<f64>();
        let cells = probe.words * probe.listeners;
        let error = of(&[Facet::Word, Facet::WordByChild, Facet::Token]) / probe.words
            + of(&[
                Facet::Listener,
                Facet::ListenerByChild,
                Facet::ListenerBySession,
            ]) / probe.listeners
            + of(&[
                Facet::ListenerByWord,
                Facet::ListenerByWordByChild,
                Facet::Residual,
            ]) / cells;
        let universe = of(&[Facet::Child, Facet::Session]);
        // Where each child came once, listener × session stands inside listener × child.
        let listener_session = self
            .components
            .iter()
            .filter(|c| {
                c.facet == Facet::ListenerBySession || c.with.contains(&Facet::ListenerBySession)
            })
            .map(|c| c.variance.max(0.0))
            .sum::<f64>();
        let noise = of(&[Facet::Session])
            + of(&[Facet::Token]) / probe.words
            + listener_session / probe.listeners
            + of(&[Facet::Residual]) / cells;
        Forecast {
            se: error.sqrt(),
            dependability: (universe > 0.0).then(|| universe / (universe + error)),
            mdc95: normal::two_sided(0.95) * (2.0 / probe.sessions * noise).sqrt(),
        }
    }
}
