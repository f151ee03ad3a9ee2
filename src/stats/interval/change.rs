//! Step 4 of 4, *change*: the interval of a change between two sets of sessions of one child, and `mdc95`.
//!
//! Sets i = A (earlier) and B (later) of sessions; all at p = `x_i` unless said:
//!
//! ```text
//! n_i sessions, T_i words;  D = mean_B p̂ − mean_A p̂;  x_i = (p̂_i T_i + ½)/(T_i + 1);  ā_l = Σ_s a_sl/n_i
//! U_i = (1/n_i²) Σ_s [(C_T − C_W)⁺/T_s + (C_L − C_L×)⁺ S_L(s) + c_E S_E(s)]
//! S_i = C(p,p;r_S)/n_i for the child's change, 0 for these days only
//! M_L = max{Σā_A² C(x_A,x_A) + Σā_B² C(x_B,x_B) − 2Σā_Aā_B C(x_A,x_B) [r_L×];
//!           θ_L (Σā_A² v_A² + Σā_B² v_B² − 2Σā_Aā_B v_A v_B);  0},   M_W alike over words,   M = M_L + M_W
//! guard:  M_L ← M_L + (V_c − U_A − U_B − M)⁺,  V_c = L/(L−1) Σ_l u_l² + W/(W−1) Σ_w u_w² − Σ_wl u_wl²,
//!         u = sums of ±a_i(y_i − p̂_s)/n_i
//! F = max{(d + Q)/(d + n_A + n_B − 2), U/(U + S)},  Q = Σ_i Σ_s (p̂_s − p̂_i)²/[n_i(U_i + S_i)],
//!     d = 2/max(S/(U + S), .2)²;   F = 1 for these days only
//! V = F(U + S) + M,  ν = V²/[(F(U + S))²/ν₁ + M_L²/ν_L + M_W²/max(W − 1, 1)],
//!     ν₁ = min(d + n_A + n_B − 2, ν_S), for these days ν_T
//! [l_i, u_i] = Wilson(p̂_i; n = x_i(1 − x_i)/(F(U_i + S_i)), z = t)
//! D − √((p̂_B − l_B)² + (u_A − p̂_A)² + t²M),  D + √((u_B − p̂_B)² + (p̂_A − l_A)² + t²M),  cut at ±1
//! mdc95 = 1.96 √(U_A + U_B + S_A + S_B + M), both sets at p₀ = (x_A + x_B)/2, F = 1, no guard
//! ```
//!
//! Listeners and words that both sets share mostly cancel: M is what does not. The limits are the square-and-add
//! (MOVER) limits of the unshared parts only.

use super::IntervalError;
use super::Round;
use super::components::Components;
use super::latent::Accuracy;
use super::latent::Curve;
use super::pairs::matching;
use super::session::t_quantile;
use super::sums::Entry;
use super::sums::SessionSums;
use super::sums::summed;
use crate::stats::special::normal;

/// d₀: how strongly one child's own spread of days is drawn to the round's.
const SHRINKAGE: f64 = 2.0;

/// What a change is a change of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// Between the days that were recorded, for listeners and words like these.
    TheseDays,
    /// Of the child, carrying good and bad days; asks for at least two sessions a side, better three.
    Child,
}

/// The change of one child's accuracy between two sets of sessions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangeInterval {
    /// Mean of the later sessions minus mean of the earlier ones, in [−1, 1].
    pub difference: f64,
    /// The lower limit, at least −1.
    pub low: f64,
    /// The upper limit, at most 1.
    pub high: f64,
    /// The smallest difference that measurement alone would pass in 5% of cases, for this very design.
    pub mdc95: f64,
    /// The means of the earlier and of the later sessions, in [0, 1].
    pub means: [f64; 2],
    /// F: how far this child's days spread beyond the round's; 1 for these days only.
    pub inflation: f64,
}

/// The limits of the second of two changes less the first, in points of 1:
///
/// ```text
/// D = D₂ − D₁,   D − √((D₂ − l₂)² + (u₁ − D₁)²),   D + √((u₂ − D₂)² + (D₁ − l₁)²),   cut at ±2
/// ```
///
/// Zou & Donner (2008), Stat. Med. 27, 1693–1702, as if the two were independent. Listeners and days that they share make
/// these limits rather too wide than too narrow.
pub fn between_changes(first: &ChangeInterval, second: &ChangeInterval) -> [f64; 2] {
    let difference = second.difference - first.difference;
    let below = (second.difference - second.low).hypot(first.high - first.difference);
    let above = (second.high - second.difference).hypot(first.difference - first.low);
    [
        (difference - below).max(-2.0),
        (difference + above).min(2.0),
    ]
}

impl Round {
    /// The interval of the change from one set of a child's sessions to another, at confidence `level`.
    ///
    /// `mdc95` is at 95% whatever the level.
    ///
    /// # Errors
    /// [`IntervalError`] as for a session, or for an empty side, or for fewer than two sessions a side where the
    /// child's own spread of days is asked for.
    pub fn change(
        &self,
        from: &[usize],
        to: &[usize],
        reading: Reading,
        level: f64,
    ) -> Result<ChangeInterval, IntervalError> {
        self.contrast(from, to)?.interval(reading, level)
    }

    /// Two sets of a child's sessions, summed once for any number of readings.
    ///
    /// # Errors
    /// [`IntervalError`] as for a session, or for an empty side.
    pub fn contrast(&self, from: &[usize], to: &[usize]) -> Result<Contrast<'_>, IntervalError> {
        self.check(0.95)?;
        Ok(Contrast {
            round: self,
            sides: [Side::new(self, from)?, Side::new(self, to)?],
        })
    }

    /// The standard error of a session's accuracy as far as no other session of the child shares it: √U of one session.
    ///
    /// # Errors
    /// [`IntervalError`] as for a session.
    pub fn unshared_error(&self, session: usize) -> Result<f64, IntervalError> {
        self.check(0.95)?;
        let sums = self.sums(session)?;
        let x = smoothed(sums.estimate, sums.tokens);
        Ok(unshared(&[sums], x, &self.components).sqrt())
    }
}

/// One set of sessions.
struct Side<'a> {
    sessions: Vec<&'a SessionSums>,
    count: f64,
    estimate: f64,
    x: Accuracy,
    by_listener: Vec<Entry>,
    by_word: Vec<Entry>,
    by_word_and_listener: Vec<Entry>,
}

impl<'a> Side<'a> {
    fn new(round: &'a Round, set: &[usize]) -> Result<Self, IntervalError> {
        let sessions = set
            .iter()
            .map(|session| round.sums(*session))
            .collect::<Result<Vec<_>, _>>()?;
        if sessions.is_empty() {
            return Err(IntervalError::EmptySide);
        }
        let count = sessions.len() as f64;
        let estimate = sessions.iter().map(|s| s.estimate).sum::<f64>() / count;
        let tokens: f64 = sessions.iter().map(|s| s.tokens).sum();
        let mean = |entries: fn(&SessionSums) -> &[Entry]| {
            let mut all: Vec<Entry> = sessions.iter().flat_map(|s| entries(s)).copied().collect();
            for entry in &mut all {
                entry.share /= count;
                entry.residual /= count;
            }
            summed(all)
        };
        Ok(Self {
            count,
            estimate,
            x: smoothed(estimate, tokens),
            by_listener: mean(|s| &s.by_listener),
            by_word: mean(|s| &s.by_word),
            by_word_and_listener: mean(|s| &s.by_word_and_listener),
            sessions,
        })
    }

    fn unshared(&self, at: Accuracy, components: &Components) -> f64 {
        unshared(&self.sessions, at, components)
    }

    /// `Σ_s` (`p̂_s` − `p̂_i`)².
    fn spread(&self) -> f64 {
        self.sessions
            .iter()
            .map(|s| (s.estimate - self.estimate).powi(2))
            .sum()
    }
}

/// `x_i` of an estimate from so many tokens.
fn smoothed(estimate: f64, tokens: f64) -> Accuracy {
    Accuracy::new((estimate * tokens + 0.5) / (tokens + 1.0))
}

/// `U_i` of a set of sessions at an accuracy.
fn unshared(sessions: &[&SessionSums], at: Accuracy, components: &Components) -> f64 {
    let v = at.variance();
    let c_token = at.shared(&components.curves.token);
    let c_listener = at.shared(&components.curves.listener);
    let own_token = (c_token - at.shared(&components.curves.word)).max(0.0);
    let own_listener = (c_listener - at.shared(&components.curves.listener_shared)).max(0.0);
    let c_error = (v - c_token - c_listener).max(0.02 * v);
    let sum: f64 = sessions
        .iter()
        .map(|s| own_token / s.tokens + own_listener * s.s_listener + c_error * s.s_error)
        .sum();
    let count = sessions.len() as f64;
    sum / (count * count)
}

/// Sums of squared shares ā of each set, and of the products of both.
struct Overlap {
    from: f64,
    to: f64,
    both: f64,
}

impl Overlap {
    fn new(from: &[Entry], to: &[Entry]) -> Self {
        let square = |entries: &[Entry]| entries.iter().map(|e| e.share * e.share).sum();
        let mut both = 0.0;
        matching(from, to, |a, b| both += a.share * b.share);
        Self {
            from: square(from),
            to: square(to),
            both,
        }
    }

    /// What does not cancel at accuracies `p` and `q`.
    fn left_over(&self, p: Accuracy, q: Accuracy, curve: &Curve, share: f64) -> f64 {
        let latent = self.from * p.shared(curve) + self.to * q.shared(curve)
            - 2.0 * self.both * curve.covariance(p, q);
        let (v, w) = (p.variance(), q.variance());
        let constant = share * (self.from * v * v + self.to * w * w - 2.0 * self.both * v * w);
        latent.max(constant).max(0.0)
    }
}

/// Two sets of a child's sessions, ready to be compared.
pub struct Contrast<'a> {
    round: &'a Round,
    sides: [Side<'a>; 2],
}

impl Contrast<'_> {
    /// The interval of the change in one reading, at confidence `level`.
    ///
    /// # Errors
    /// [`IntervalError`] as of [`Round::change`].
    pub fn interval(&self, reading: Reading, level: f64) -> Result<ChangeInterval, IntervalError> {
        self.round.check(level)?;
        let fewest = self.sides[0]
            .sessions
            .len()
            .min(self.sides[1].sessions.len());
        if reading == Reading::Child && fewest < 2 {
            return Err(IntervalError::TooFewSessions);
        }
        Change {
            components: &self.round.components,
            sides: &self.sides,
            reading,
        }
        .interval(level)
    }
}

/// One reading of a contrast.
struct Change<'a> {
    components: &'a Components,
    sides: &'a [Side<'a>; 2],
    reading: Reading,
}

impl Change<'_> {
    fn interval(&self, level: f64) -> Result<ChangeInterval, IntervalError> {
        let [from, to] = self.sides;
        let listeners = Overlap::new(&from.by_listener, &to.by_listener);
        let words = Overlap::new(&from.by_word, &to.by_word);
        let unshared = [
            from.unshared(from.x, self.components),
            to.unshared(to.x, self.components),
        ];
        let days = [self.days(from, from.x), self.days(to, to.x)];
        let (u, s) = (unshared[0] + unshared[1], days[0] + days[1]);
        let mut m_listener = self.left_over_listeners(&listeners, from.x, to.x);
        let m_word = self.left_over_words(&words, from.x, to.x);
        let (clustered, n_words) = self.clustered_variance();
        m_listener += (clustered - u - m_listener - m_word).max(0.0);
        let (inflation, df) = self.own_days(unshared, days);
        let variance = (u + s) * inflation + m_listener + m_word;
        let df = variance * variance
            / (((u + s) * inflation).powi(2) / df.max(1.0)
                + m_listener.powi(2) / self.components.df_listener
                + m_word.powi(2) / (n_words - 1.0).max(1.0));
        let t = t_quantile(level, df.max(1.0))?;
        let arms = [
            wilson_arms(from, (unshared[0] + days[0]) * inflation, t),
            wilson_arms(to, (unshared[1] + days[1]) * inflation, t),
        ];
        let shared = t * t * (m_listener + m_word);
        let difference = to.estimate - from.estimate;
        let [(below_from, above_from), (below_to, above_to)] = arms;
        Ok(ChangeInterval {
            difference,
            low: (difference - (below_to.powi(2) + above_from.powi(2) + shared).sqrt()).max(-1.0),
            high: (difference + (above_to.powi(2) + below_from.powi(2) + shared).sqrt()).min(1.0),
            mdc95: self.mdc95(&listeners, &words),
            means: [from.estimate, to.estimate],
            inflation,
        })
    }

    /// `S_i`.
    fn days(&self, side: &Side<'_>, at: Accuracy) -> f64 {
        match self.reading {
            Reading::TheseDays => 0.0,
            Reading::Child => at.shared(&self.components.curves.session) / side.count,
        }
    }

    fn left_over_listeners(&self, listeners: &Overlap, p: Accuracy, q: Accuracy) -> f64 {
        let share = self.components.share_listener_shared;
        listeners.left_over(p, q, &self.components.curves.listener_shared, share)
    }

    fn left_over_words(&self, words: &Overlap, p: Accuracy, q: Accuracy) -> f64 {
        words.left_over(
            p,
            q,
            &self.components.curves.word,
            self.components.share_word,
        )
    }

    /// `V_c`, the two-way cluster variance of this contrast, and the number of words in it.
    fn clustered_variance(&self) -> (f64, f64) {
        let [from, to] = self.sides;
        let (by_listener, listeners) = squared_residuals(&from.by_listener, &to.by_listener);
        let (by_word, words) = squared_residuals(&from.by_word, &to.by_word);
        let (by_both, _) = squared_residuals(&from.by_word_and_listener, &to.by_word_and_listener);
        let unbiased = |count: f64| {
            if count > 1.0 {
                count / (count - 1.0)
            } else {
                1.0
            }
        };
        let clustered = unbiased(listeners) * by_listener + unbiased(words) * by_word - by_both;
        (clustered, words)
    }

    /// F, how far this child's days spread beyond the round's, and ν₁.
    fn own_days(&self, unshared: [f64; 2], days: [f64; 2]) -> (f64, f64) {
        if self.reading == Reading::TheseDays {
            return (1.0, self.components.df_token);
        }
        let [from, to] = self.sides;
        let own_df = from.count + to.count - 2.0;
        let spread = from.spread() / (from.count * (unshared[0] + days[0]))
            + to.spread() / (to.count * (unshared[1] + days[1]));
        let (u, s) = (unshared[0] + unshared[1], days[0] + days[1]);
        let shrinkage = SHRINKAGE / (s / (u + s)).max(0.2).powi(2);
        let inflation = ((shrinkage + spread) / (shrinkage + own_df)).max(u / (u + s));
        (
            inflation,
            (shrinkage + own_df).min(self.components.df_session),
        )
    }

    fn mdc95(&self, listeners: &Overlap, words: &Overlap) -> f64 {
        let [from, to] = self.sides;
        let p0 = Accuracy::new(f64::midpoint(from.x.p, to.x.p));
        let variance = from.unshared(p0, self.components)
            + to.unshared(p0, self.components)
            + self.days(from, p0)
            + self.days(to, p0)
            + self.left_over_listeners(listeners, p0, p0)
            + self.left_over_words(words, p0, p0);
        normal::two_sided(0.95) * variance.sqrt()
    }
}

/// Σu² over all keys of both sides, with u = later − earlier, and the number of keys.
fn squared_residuals(from: &[Entry], to: &[Entry]) -> (f64, f64) {
    let square = |entries: &[Entry]| entries.iter().map(|e| e.residual * e.residual).sum::<f64>();
    let mut sum = square(from) + square(to);
    let mut keys = (from.len() + to.len()) as f64;
    matching(from, to, |a, b| {
        sum -= 2.0 * a.residual * b.residual;
        keys -= 1.0;
    });
    (sum, keys)
}

/// How far Wilson's limits lie below and above the estimate, at a sample size that has this variance at x.
fn wilson_arms(side: &Side<'_>, variance: f64, t: f64) -> (f64, f64) {
    let p = side.estimate;
    let [low, high] = wilson_limits(p, side.x.variance() / variance, t);
    (p - low, high - p)
}

/// Wilson's limits of a share from `n` trials, which need not be a whole number, at a critical value `t`.
pub(super) fn wilson_limits(p: f64, n: f64, t: f64) -> [f64; 2] {
    let square = t * t;
    let scale = 1.0 + square / n;
    let centre = (p + square / (2.0 * n)) / scale;
    let half = t / scale * (p * (1.0 - p) / n + square / (4.0 * n * n)).max(0.0).sqrt();
    [(centre - half).max(0.0), (centre + half).min(1.0)]
}
