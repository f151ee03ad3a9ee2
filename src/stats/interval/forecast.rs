//! What another design would give for the same change, from the components of this round.
//!
//! Every listener judges every word of every session, and the words are the same ones each time:
//!
//! ```text
//! U_i = [(C_T − C_W)⁺/T + (C_L − C_L×)⁺/L + c_E/(TL)]/n_i,   S_i = C_S/n_i
//! M_L = max{(C(x_A,x_A) + C(x_B,x_B) − 2C(x_A,x_B))/L [r_L×]; θ_L (v_A − v_B)²/L},  M_W alike over T words
//! half width = t √(F(U + S) + M),  ν as for the change itself with ν_L = L − 1, W = T
//! ```
//!
//! Over several panels `M_L` is that of the first panel, whose listeners the scale is of; neither it nor the error of linking is
//! made smaller by a listener, word or session more.

use super::Reading;
use super::Round;
use super::components::Components;
use super::latent::Accuracy;
use super::latent::Curve;
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

/// A change as designs would see it: what does not hang on the design is computed once for any number of them.
#[derive(Debug, Clone, Copy)]
pub struct Outlook {
    level: f64,
    /// The normal critical values of the interval's level and of 95%.
    z: f64,
    z95: f64,
    reading: Reading,
    inflation: f64,
    /// The shares of a session's variance before, after, and halfway between.
    before: Shared,
    after: Shared,
    middle: Shared,
    /// What one listener and one word leave over of the difference.
    left_over: [f64; 2],
    linking: LinkingError,
}

/// The variance that putting several panels on one scale brings, whatever the design, and its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LinkingError {
    pub(super) variance: f64,
    pub(super) df: f64,
    /// What is left over of the listeners whose scale it is.
    pub(super) listeners: f64,
    pub(super) df_listeners: f64,
}

/// C of each kind of sharing at one accuracy.
#[derive(Debug, Clone, Copy)]
struct Shared {
    own_token: f64,
    own_listener: f64,
    error: f64,
    days: f64,
}

/// The variance that a design would give a change, in its parts.
struct Variance {
    unshared: f64,
    days: f64,
    own: f64,
    left_over: [f64; 2],
    linking: f64,
    /// Of the listeners whose scale several panels are put on.
    scale: f64,
}

impl Round {
    /// What the round's components, taken as known, say of a change for designs other than its own, at confidence `level`.
    pub fn outlook(&self, expected: &Expected, level: f64) -> Outlook {
        Outlook::new(&self.components, expected, level)
    }
}

impl Outlook {
    fn new(components: &Components, expected: &Expected, level: f64) -> Self {
        let [before, after] = expected.accuracy.map(Accuracy::new);
        let middle = Accuracy::new(f64::midpoint(before.p, after.p));
        let shared = |at| Shared::new(at, expected.reading, components);
        Self {
            level,
            z: normal::two_sided(level),
            z95: normal::two_sided(0.95),
            reading: expected.reading,
            inflation: expected.inflation,
            before: shared(before),
            after: shared(after),
            middle: shared(middle),
            left_over: left_over([before, after], components),
            linking: LinkingError {
                variance: 0.0,
                df: 1.0,
                listeners: 0.0,
                df_listeners: 1.0,
            },
        }
    }

    /// Over several panels on one scale: what listeners share is in the error of linking, and `days` is the variance of one
    /// day at an accuracy, as all rounds show it.
    pub(super) fn over_panels(
        components: &Components,
        expected: &Expected,
        level: f64,
        linking: LinkingError,
        days: impl Fn(f64) -> f64,
    ) -> Self {
        let [before, after] = expected.accuracy;
        let mut outlook = Self::new(components, expected, level);
        if expected.reading == Reading::Child {
            outlook.before.days = days(before);
            outlook.after.days = days(after);
            outlook.middle.days = days(f64::midpoint(before, after));
        }
        outlook.left_over[0] = 0.0;
        outlook.linking = linking;
        outlook
    }

    /// The interval's half width and the minimal detectable change that a design would give.
    ///
    /// A forecast for planning. Nothing where the level or the design has no meaning.
    pub fn forecast(&self, design: Design) -> Option<Forecast> {
        let variance = self.variance(&design);
        let df = self.degrees_of_freedom(&variance, &design);
        Some(Forecast {
            half_width: t_quantile(self.level, df.max(1.0)).ok()? * variance.sum().sqrt(),
            mdc95: self.mdc95(&design),
        })
    }

    /// As [`Outlook::forecast`], with the half width that endless degrees of freedom would give: never more than the
    /// real one, and without the search for a quantile, so that hopeless designs are passed by quickly.
    pub fn at_best(&self, design: Design) -> Forecast {
        Forecast {
            half_width: self.z * self.variance(&design).sum().sqrt(),
            mdc95: self.mdc95(&design),
        }
    }

    fn variance(&self, design: &Design) -> Variance {
        let [n_before, n_after] = design.sessions;
        let unshared =
            self.before.unshared(design) / n_before + self.after.unshared(design) / n_after;
        let days = self.before.days / n_before + self.after.days / n_after;
        let [listener, word] = self.left_over;
        Variance {
            unshared,
            days,
            own: (unshared + days) * self.inflation,
            left_over: [listener / design.listeners, word / design.words],
            linking: self.linking.variance,
            scale: self.linking.listeners,
        }
    }

    fn degrees_of_freedom(&self, variance: &Variance, design: &Design) -> f64 {
        let [m_listener, m_word] = variance.left_over;
        variance.sum() * variance.sum()
            / (variance.own.powi(2) / self.own_df(variance, design)
                + m_listener.powi(2) / (design.listeners - 1.0).max(1.0)
                + m_word.powi(2) / (design.words - 1.0).max(1.0)
                + variance.linking.powi(2) / self.linking.df
                + variance.scale.powi(2) / self.linking.df_listeners)
    }

    fn own_df(&self, variance: &Variance, design: &Design) -> f64 {
        let [n_before, n_after] = design.sessions;
        let (u, s) = (variance.unshared, variance.days);
        match self.reading {
            Reading::TheseDays => (n_before + n_after) * (design.words - 1.0).max(1.0),
            Reading::Child => 2.0 / (s / (u + s)).max(0.2).powi(2) + n_before + n_after - 2.0,
        }
    }

    fn mdc95(&self, design: &Design) -> f64 {
        let [n_before, n_after] = design.sessions;
        let one_side = self.middle.unshared(design);
        let noise = one_side / n_before
            + one_side / n_after
            + self.middle.days / n_before
            + self.middle.days / n_after
            + self.linking.variance;
        self.z95 * noise.sqrt()
    }
}

impl Variance {
    fn sum(&self) -> f64 {
        let [m_listener, m_word] = self.left_over;
        self.own + m_listener + m_word + self.linking + self.scale
    }
}

impl Shared {
    fn new(at: Accuracy, reading: Reading, components: &Components) -> Self {
        let v = at.variance();
        let (c_token, c_listener) = (
            at.shared(&components.curves.token),
            at.shared(&components.curves.listener),
        );
        Self {
            own_token: (c_token - at.shared(&components.curves.word)).max(0.0),
            own_listener: (c_listener - at.shared(&components.curves.listener_shared)).max(0.0),
            error: (v - c_token - c_listener).max(0.02 * v),
            days: match reading {
                Reading::TheseDays => 0.0,
                Reading::Child => at.shared(&components.curves.session),
            },
        }
    }

    /// U of one session.
    fn unshared(&self, design: &Design) -> f64 {
        self.own_token / design.words
            + self.own_listener / design.listeners
            + self.error / (design.words * design.listeners)
    }
}

/// What one listener and one word leave over of the difference.
pub(super) fn left_over([p, q]: [Accuracy; 2], components: &Components) -> [f64; 2] {
    let gap = (p.variance() - q.variance()).powi(2);
    let kind = |curve: &Curve, share: f64| {
        let latent = p.shared(curve) + q.shared(curve) - 2.0 * curve.covariance(p, q);
        latent.max(share * gap).max(0.0)
    };
    [
        kind(
            &components.curves.listener_shared,
            components.share_listener_shared,
        ),
        kind(&components.curves.word, components.share_word),
    ]
}
