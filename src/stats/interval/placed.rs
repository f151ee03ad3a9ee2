//! Sessions that different panels heard, placed on the scale of the first panel, and changes over them.
//!
//! A panel that is δ more lenient shifts the odds of every token by δ; of a session, whose tokens differ, by
//! `δ√(1 − r_T)`, with `r_T` the latent correlation of two judgements of one token. So
//!
//! ```text
//! g(p) = expit(logit p − δ√(1 − r_T)),   g' = g(1 − g)/(p(1 − p)),   h = ∂g/∂δ = −√(1 − r_T) g(1 − g)
//! session: limits on the log odds, √((λ − logit limit)² + t²(1 − r_T) var δ) to each side of λ = logit x
//! change:  D = mean_B g − mean_A g
//!          U_i = (1/n_i²) Σ_s g'² U_s,   S_i = v_i² σ²/n_i,   L = Σ_rq H_r H_q cov(δ_r, δ_q),  H_r = Σ_{s∈r} ±h_s/n_i
//!          M_W = what does not cancel of words, with r_W as within a round
//!          σ² = (Σ(n_g − 1)(s²_g − mean g'²U_s)/Σ(n_g − 1)v_g²)⁺ over groups of one child in one phase
//!          F, ν and the limits as for a change within a round, with L and M_W as the shared part
//! ```
//!
//! `U_s` is the part of a session's variance that nothing shares; what listeners of one later panel share is in δ, which was
//! measured with these very listeners, and cancels. Within one panel nothing is adjusted. The scale is that of the first
//! panel's listeners, and what is left over of them in a change, as within a round, is `M_L`:
//!
//! ```text
//! M_L = max{C(x_A,x_A) + C(x_B,x_B) − 2C(x_A,x_B) [r_L×]; θ_L (v_A − v_B)²}/L_1,  ν_L = L_1 − 1,  shared like L and M_W
//! ```

use std::collections::BTreeMap;

use super::Components;
use super::IntervalError;
use super::SessionInterval;
use super::change::wilson_limits;
use super::forecast::Expected;
use super::forecast::LinkingError;
use super::forecast::Outlook;
use super::forecast::left_over;
use super::latent::Accuracy;
use super::linking::Scale;
use super::session::t_quantile;
use crate::stats::special::normal;

/// A session as its own panel heard it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardSession {
    /// Which panel, in the order of the scale.
    pub panel: usize,
    /// Which child.
    pub child: u32,
    /// Which phase.
    pub phase: u32,
    /// Words judged.
    pub tokens: f64,
    /// Each word by a number that holds for all rounds.
    pub words: Vec<u32>,
    /// Its accuracy and interval there.
    pub interval: SessionInterval,
    /// √U of the session.
    pub unshared_error: f64,
    /// Components of its round.
    pub components: Components,
}

/// A session on the scale of the first panel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedSession {
    /// The accuracy that the first panel would have given.
    pub estimate: f64,
    /// Limits for new words and new listeners like the first panel's, the linking error in them.
    pub low: f64,
    /// The upper limit.
    pub high: f64,
}

/// A change over sessions of several panels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedChange {
    /// Later less earlier mean.
    pub difference: f64,
    /// The lower limit, at least −1.
    pub low: f64,
    /// The upper limit, at most 1.
    pub high: f64,
    /// The smallest difference beyond measurement, linking and good and bad days.
    pub mdc95: f64,
    /// The means of the earlier and of the later sessions.
    pub means: [f64; 2],
    /// The standard error that linking alone brings.
    pub linking_error: f64,
}

/// Sessions of several panels on one scale.
#[derive(Debug, Clone)]
pub struct Placed {
    sessions: Vec<HeardSession>,
    scale: Scale,
    /// σ², the variance of good and bad days in log odds, and its degrees of freedom.
    days: f64,
    df_days: f64,
}

/// A session with its derivatives.
struct Point {
    placed: f64,
    /// g'²U.
    unshared: f64,
    /// h.
    sensitivity: f64,
}

impl Placed {
    /// Places every session; `scale` holds every panel.
    pub fn new(sessions: Vec<HeardSession>, scale: Scale) -> Self {
        let mut placed = Self {
            sessions,
            scale,
            days: 0.0,
            df_days: 1.0,
        };
        let mut groups: BTreeMap<(u32, u32), Vec<Point>> = BTreeMap::new();
        for session in &placed.sessions {
            let group = groups.entry((session.child, session.phase)).or_default();
            group.push(placed.point(session));
        }
        let (mut excess, mut scale, mut df) = (0.0, 0.0, 0.0);
        for points in groups.values().filter(|points| points.len() > 1) {
            let n = points.len() as f64;
            let mean = points.iter().map(|p| p.placed).sum::<f64>() / n;
            let squares: f64 = points.iter().map(|p| (p.placed - mean).powi(2)).sum();
            let noise = points.iter().map(|p| p.unshared).sum::<f64>() / n;
            excess += squares - (n - 1.0) * noise;
            scale += (n - 1.0) * variance(mean).powi(2);
            df += n - 1.0;
        }
        if scale > 0.0 {
            placed.days = (excess / scale).max(0.0);
            placed.df_days = df;
        }
        placed
    }

    /// One session, by its place in the list that was given.
    ///
    /// # Errors
    /// [`IntervalError::NoJudgement`] where there is none.
    pub fn session(&self, session: usize, level: f64) -> Result<PlacedSession, IntervalError> {
        let heard = self
            .sessions
            .get(session)
            .ok_or(IntervalError::NoJudgement)?;
        let shift = self.shift_of(heard);
        let linking = attenuation(heard).powi(2) * self.scale.covariance(heard.panel, heard.panel);
        let t = t_quantile(level, self.scale.df(heard.panel).min(1e6))?;
        let x = smoothed(heard);
        let at = |limit: f64| {
            let arm = (logit(limit) - logit(x)).hypot(t * linking.sqrt());
            if limit < x {
                expit(logit(x) - shift - arm)
            } else {
                expit(logit(x) - shift + arm)
            }
        };
        Ok(PlacedSession {
            estimate: self.placed(heard),
            low: at(heard.interval.low.min(x)),
            high: at(heard.interval.high.max(x)),
        })
    }

    /// The change of a child from one set of sessions to another, at confidence `level`; `carries_days`: of the child,
    /// else between these recordings. `mdc95` is at 95% whatever the level.
    ///
    /// # Errors
    /// [`IntervalError::EmptySide`] where a side holds no session, [`IntervalError::TooFewSessions`] where the child's
    /// own days are asked for and a side has fewer than two.
    pub fn change(
        &self,
        from: &[usize],
        to: &[usize],
        reading: super::Reading,
        level: f64,
    ) -> Result<PlacedChange, IntervalError> {
        let sides = [self.side(from)?, self.side(to)?];
        let fewest = from.len().min(to.len());
        let carries_days = reading == super::Reading::Child;
        if carries_days && fewest < 2 {
            return Err(IntervalError::TooFewSessions);
        }
        let [a, b] = &sides;
        let days = |side: &Side, at: f64| {
            if carries_days {
                variance(at).powi(2) * self.days / side.count
            } else {
                0.0
            }
        };
        let linking = self.linking(a, b);
        let words = left_over_words(a, b, [a.x, b.x]);
        let (listeners, df_listeners) = self.left_over_listeners([a.x, b.x]);
        let shared = linking + listeners + words;
        let spread_days = [days(a, a.x), days(b, b.x)];
        let (u, s) = (a.unshared + b.unshared, spread_days[0] + spread_days[1]);
        let (inflation, df) = if carries_days {
            self.own_days(&sides, spread_days)
        } else {
            (1.0, a.df_token + b.df_token)
        };
        let total = (u + s) * inflation + shared;
        let df_linking = a.df_linking.min(b.df_linking).min(1e6);
        let df = total * total
            / (((u + s) * inflation).powi(2) / df.max(1.0)
                + linking.powi(2) / df_linking
                + listeners.powi(2) / df_listeners
                + words.powi(2) / (a.words.len() as f64 - 1.0).max(1.0));
        let t = t_quantile(level, df.max(1.0))?;
        let arms = [
            arms(a, (a.unshared + spread_days[0]) * inflation, t),
            arms(b, (b.unshared + spread_days[1]) * inflation, t),
        ];
        let difference = b.estimate - a.estimate;
        let [(below_a, above_a), (below_b, above_b)] = arms;
        let common = t * t * shared;
        let p0 = f64::midpoint(a.x, b.x);
        let equal = variance(p0);
        let at_p0 = |side: &Side| side.unshared * equal / variance(side.x) + days(side, p0);
        let mdc = at_p0(a) + at_p0(b) + linking + left_over_words(a, b, [p0, p0]);
        Ok(PlacedChange {
            difference,
            low: (difference - (below_b.powi(2) + above_a.powi(2) + common).sqrt()).max(-1.0),
            high: (difference + (above_b.powi(2) + below_a.powi(2) + common).sqrt()).min(1.0),
            mdc95: normal::two_sided(0.95) * mdc.sqrt(),
            means: [a.estimate, b.estimate],
            linking_error: linking.sqrt(),
        })
    }

    /// What other designs would see of a change, the error of linking as it stands; the components are those of the last
    /// panel, which is most like the next one.
    ///
    /// # Errors
    /// [`IntervalError`] as for [`Placed::change`].
    pub fn outlook(
        &self,
        from: &[usize],
        to: &[usize],
        reading: super::Reading,
        level: f64,
    ) -> Result<Outlook, IntervalError> {
        let sides = [self.side(from)?, self.side(to)?];
        let [a, b] = &sides;
        let days = |at: f64| variance(at).powi(2) * self.days;
        let inflation = match reading {
            super::Reading::TheseDays => 1.0,
            super::Reading::Child => {
                self.own_days(&sides, [days(a.x) / a.count, days(b.x) / b.count])
                    .0
            }
        };
        let compared = from.iter().chain(to);
        let last = compared
            .filter_map(|session| self.sessions.get(*session))
            .max_by_key(|session| session.panel)
            .ok_or(IntervalError::EmptySide)?;
        let expected = Expected {
            accuracy: [a.x, b.x],
            inflation,
            reading,
        };
        let (listeners, df_listeners) = self.left_over_listeners([a.x, b.x]);
        let linking = LinkingError {
            variance: self.linking(a, b),
            df: a.df_linking.min(b.df_linking).min(1e6),
            listeners,
            df_listeners,
        };
        Ok(Outlook::over_panels(
            &last.components,
            &expected,
            level,
            linking,
            days,
        ))
    }

    fn side(&self, set: &[usize]) -> Result<Side, IntervalError> {
        let sessions: Vec<&HeardSession> = set
            .iter()
            .map(|session| {
                self.sessions
                    .get(*session)
                    .ok_or(IntervalError::NoJudgement)
            })
            .collect::<Result<_, _>>()?;
        if sessions.is_empty() {
            return Err(IntervalError::EmptySide);
        }
        let count = sessions.len() as f64;
        let points: Vec<Point> = sessions.iter().map(|session| self.point(session)).collect();
        let mut by_panel = BTreeMap::new();
        let mut words = BTreeMap::new();
        for (session, point) in sessions.iter().zip(&points) {
            *by_panel.entry(session.panel).or_insert(0.0) += point.sensitivity / count;
            for word in &session.words {
                *words.entry(*word).or_insert(0.0) += 1.0 / (count * session.words.len() as f64);
            }
        }
        let tokens: f64 = sessions.iter().map(|session| session.tokens).sum();
        let estimate = points.iter().map(|point| point.placed).sum::<f64>() / count;
        let df_linking = sessions.iter().map(|session| self.scale.df(session.panel));
        Ok(Side {
            count,
            estimate,
            x: (estimate * tokens + 0.5) / (tokens + 1.0),
            unshared: points.iter().map(|point| point.unshared).sum::<f64>() / (count * count),
            scores: points.iter().map(|point| point.placed).collect(),
            by_panel,
            words,
            r_word: sessions.iter().map(|s| s.components.r_word).sum::<f64>() / count,
            df_token: tokens - count,
            df_linking: df_linking.fold(f64::INFINITY, f64::min),
        })
    }

    fn point(&self, session: &HeardSession) -> Point {
        let x = smoothed(session);
        let at_x = expit(logit(x) - self.shift_of(session));
        let slope = variance(at_x) / variance(x);
        Point {
            placed: self.placed(session),
            unshared: (slope * session.unshared_error).powi(2),
            sensitivity: -attenuation(session) * variance(at_x),
        }
    }

    fn placed(&self, session: &HeardSession) -> f64 {
        let shift = self.shift_of(session);
        let estimate = session.interval.estimate;
        if shift == 0.0 {
            estimate
        } else {
            expit(logit(estimate) - shift)
        }
    }

    /// What is taken from the log odds of a session.
    fn shift_of(&self, session: &HeardSession) -> f64 {
        self.scale.shift(session.panel) * attenuation(session)
    }

    /// L.
    fn linking(&self, from: &Side, to: &Side) -> f64 {
        let mut net = to.by_panel.clone();
        for (panel, sensitivity) in &from.by_panel {
            *net.entry(*panel).or_insert(0.0) -= sensitivity;
        }
        let pairs = net
            .iter()
            .flat_map(|one| net.iter().map(move |other| (one, other)));
        let sum: f64 = pairs
            .map(|((r, h), (q, k))| h * k * self.scale.covariance(*r, *q))
            .sum();
        sum.max(0.0)
    }

    /// `M_L` between two accuracies, and its degrees of freedom: of the first panel, or of the earliest that heard anything.
    fn left_over_listeners(&self, accuracy: [f64; 2]) -> (f64, f64) {
        let first = self.sessions.iter().min_by_key(|session| session.panel);
        first.map_or((0.0, 1.0), |session| {
            let df = session.components.df_listener;
            let [one_listener, _] = left_over(accuracy.map(Accuracy::new), &session.components);
            (one_listener / (df + 1.0), df)
        })
    }

    /// F and ν₁, as for a change within a round.
    fn own_days(&self, [from, to]: &[Side; 2], days: [f64; 2]) -> (f64, f64) {
        let own_df = from.count + to.count - 2.0;
        let spread = |side: &Side, days: f64| {
            let squares: f64 = side
                .scores
                .iter()
                .map(|p| (p - side.estimate).powi(2))
                .sum();
            squares / (side.count * (side.unshared + days))
        };
        let seen = spread(from, days[0]) + spread(to, days[1]);
        let (u, s) = (from.unshared + to.unshared, days[0] + days[1]);
        let shrinkage = 2.0 / (s / (u + s)).max(0.2).powi(2);
        let inflation = ((shrinkage + seen) / (shrinkage + own_df)).max(u / (u + s));
        (inflation, (shrinkage + own_df).min(self.df_days))
    }
}

/// One set of sessions.
struct Side {
    count: f64,
    estimate: f64,
    x: f64,
    unshared: f64,
    scores: Vec<f64>,
    /// H of each panel.
    by_panel: BTreeMap<usize, f64>,
    /// ā of each word.
    words: BTreeMap<u32, f64>,
    r_word: f64,
    df_token: f64,
    df_linking: f64,
}

fn left_over_words(from: &Side, to: &Side, [p, q]: [f64; 2]) -> f64 {
    let r = f64::midpoint(from.r_word, to.r_word);
    let square = |side: &Side| side.words.values().map(|a| a * a).sum::<f64>();
    let shared = from
        .words
        .iter()
        .filter_map(|(word, a)| Some(a * to.words.get(word)?));
    let left = square(from) * Components::covariance(p, p, r)
        + square(to) * Components::covariance(q, q, r)
        - 2.0 * shared.sum::<f64>() * Components::covariance(p, q, r);
    left.max(0.0)
}

/// How far the limits lie below and above the estimate.
fn arms(side: &Side, unshared: f64, t: f64) -> (f64, f64) {
    let [low, high] = wilson_limits(side.estimate, variance(side.x) / unshared, t);
    (side.estimate - low, high - side.estimate)
}

fn smoothed(session: &HeardSession) -> f64 {
    (session.interval.estimate * session.tokens + 0.5) / (session.tokens + 1.0)
}

/// `√(1 − r_T)`.
fn attenuation(session: &HeardSession) -> f64 {
    (1.0 - session.components.r_token).sqrt()
}

fn variance(p: f64) -> f64 {
    p * (1.0 - p)
}

fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

fn expit(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}
