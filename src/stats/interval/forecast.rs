//! What another design would give for the same change, from the components of this round.
//!
//! Every listener judges every word of every session, and the words are the same ones each time:
//!
//! ```text
//! U_i = [(C_T − C_W)⁺/T + (C_L − C_L×)⁺/L + c_E/(TL)]/n_i,   S_i = C_S/n_i
//! M_L = max{(C(x_A,x_A) + C(x_B,x_B) − 2C(x_A,x_B))/L [r_L×]; θ_L (v_A − v_B)²/L},  M_W alike over T words
//! half width = t √(F(U + S) + M),  ν as for the change itself with ν_L = L − 1, W = T
//! ```

use super::Reading;
use super::Round;
use super::components::Components;
use super::latent::Accuracy;
use super::latent::covariance;
use super::session::t_quantile;
use crate::stats::special::normal;

/// A panel and a probe: every listener judges every word of every session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    /// Listeners, at least two.
    pub listeners: f64,
    /// Words a session, at least two.
    pub words: f64,
    /// Sessions of the earlier and of the later set, at least one each.
    pub sessions: [f64; 2],
}

/// What a change is, for a forecast of how well another design would see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The accuracies before and after, strictly between 0 and 1.
    pub accuracy: [f64; 2],
    /// F: how far this child's days spread beyond the round's; 1 as the round's.
    pub inflation: f64,
    /// What the change is of.
    pub reading: Reading,
}

/// How well a design would see a change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Half the width of the interval, on the scale of accuracy.
    pub half_width: f64,
    /// The minimal detectable change.
    pub mdc95: f64,
}

impl Round {
    /// The interval's half width and the minimal detectable change that a design would give, at confidence `level`.
    ///
    /// A forecast for planning: it takes the round's components as known. Nothing where the level or the design has no meaning.
    pub fn forecast(&self, design: Design, expected: &Expected, level: f64) -> Option<Forecast> {
        let components = &self.components;
        let [before, after] = expected.accuracy.map(Accuracy::new);
        let [n_before, n_after] = design.sessions;
        let u = unshared(before, &design, components) / n_before
            + unshared(after, &design, components) / n_after;
        let days = |at: Accuracy, n: f64| match expected.reading {
            Reading::TheseDays => 0.0,
            Reading::Child => at.shared(components.r_session) / n,
        };
        let s = days(before, n_before) + days(after, n_after);
        let [m_listener, m_word] = left_over(before, after, &design, components);
        let own = (u + s) * expected.inflation;
        let variance = own + m_listener + m_word;
        let df = variance * variance
            / (own.powi(2) / own_df(expected.reading, u, s, &design)
                + m_listener.powi(2) / (design.listeners - 1.0).max(1.0)
                + m_word.powi(2) / (design.words - 1.0).max(1.0));
        let t = t_quantile(level, df.max(1.0)).ok()?;
        let middle = Accuracy::new(f64::midpoint(before.p, after.p));
        let one_side = unshared(middle, &design, components);
        let noise = one_side / n_before
            + one_side / n_after
            + days(middle, n_before)
            + days(middle, n_after);
        Some(Forecast {
            half_width: t * variance.sqrt(),
            mdc95: normal::two_sided(0.95) * noise.sqrt(),
        })
    }
}

/// U of one session.
fn unshared(at: Accuracy, design: &Design, components: &Components) -> f64 {
    let v = at.variance();
    let (c_token, c_listener) = (
        at.shared(components.r_token),
        at.shared(components.r_listener),
    );
    let own_token = (c_token - at.shared(components.r_word)).max(0.0);
    let own_listener = (c_listener - at.shared(components.r_listener_shared)).max(0.0);
    let c_error = (v - c_token - c_listener).max(0.02 * v);
    own_token / design.words
        + own_listener / design.listeners
        + c_error / (design.words * design.listeners)
}

fn left_over(p: Accuracy, q: Accuracy, design: &Design, components: &Components) -> [f64; 2] {
    let gap = (p.variance() - q.variance()).powi(2);
    let kind = |r: f64, share: f64| {
        let latent = p.shared(r) + q.shared(r) - 2.0 * covariance(p, q, r);
        latent.max(share * gap).max(0.0)
    };
    [
        kind(
            components.r_listener_shared,
            components.share_listener_shared,
        ) / design.listeners,
        kind(components.r_word, components.share_word) / design.words,
    ]
}

fn own_df(reading: Reading, u: f64, s: f64, design: &Design) -> f64 {
    let [n_before, n_after] = design.sessions;
    match reading {
        Reading::TheseDays => (n_before + n_after) * (design.words - 1.0).max(1.0),
        Reading::Child => 2.0 / (s / (u + s)).max(0.2).powi(2) + n_before + n_after - 2.0,
    }
}
