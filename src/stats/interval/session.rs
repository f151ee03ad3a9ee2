//! Step 3 of 4, *session*: the interval of one session's accuracy.
//!
//! ```text
//! V(p) = c_T(p)/T + c_L(p)·S_L + c_E(p)·S_E
//! c_T = ½[C(p,p;r_T) + ρ_T p(1−p)] ≤ .95v,  c_L = C(p,p;r_L) ≤ .95v − .99c_T,  c_E = max(v − c_T − c_L, .02v)
//! ν = (A + B + E)²/[(A + E/N)²/ν_T + (B + E/N)²/ν_L],  A, B, E the terms at x = (p̂T + 1)/(T + 2), c_T = C alone
//! limits: the p below and the p above p̂ with (p̂ − p)² = t²_{ν} V(p);  p̂ = 0: low 0;  p̂ = 1: high 1
//! effective_n = x(1 − x)/V(x)
//! ```
//!
//! Wilson's interval with its sample size taken at the limit. `c_T` is the mean of the probit reading and a constant
//! share, for the tails of token quality are unknown.

use super::IntervalError;
use super::Round;
use super::components::Components;
use super::latent::Accuracy;
use super::sums::SessionSums;
use crate::stats::root;
use crate::stats::special::StudentT;

/// How near to 0 and 1 a limit is sought; at the ends themselves the variance is 0, a root that means nothing.
const EDGE: f64 = 1e-9;

/// The probability that a new listener calls a new token of this session correct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SessionInterval {
    /// The mean over words of the share judged correct, in [0, 1].
    pub estimate: f64,
    /// The lower limit, in [0, 1].
    pub low: f64,
    /// The upper limit, in [0, 1].
    pub high: f64,
    /// How many independent judgements would tell as much.
    pub effective_n: f64,
}

/// The three parts of a session's variance at one accuracy.
#[derive(Clone, Copy)]
struct Parts {
    token: f64,
    listener: f64,
    error: f64,
}

impl Parts {
    fn new(
        accuracy: Accuracy,
        c_token: f64,
        components: &Components,
        session: &SessionSums,
    ) -> Self {
        let v = accuracy.variance();
        let c_token = c_token.min(0.95 * v);
        let c_listener = accuracy
            .shared(&components.curves.listener)
            .min(0.95 * v - 0.99 * c_token);
        let c_error = (v - c_token - c_listener).max(0.02 * v);
        Self {
            token: c_token / session.tokens,
            listener: c_listener * session.s_listener,
            error: c_error * session.s_error,
        }
    }

    fn sum(self) -> f64 {
        self.token + self.listener + self.error
    }
}

impl Round {
    /// The interval of one session for new tokens and new listeners, at confidence `level`.
    ///
    /// A session that stands alone takes its components from itself; one with a token a listener borrows the round's.
    ///
    /// # Errors
    /// [`IntervalError`] where one listener judged all, where nothing is crossed, where the session is empty.
    pub fn session(&self, session: usize, level: f64) -> Result<SessionInterval, IntervalError> {
        let sums = self.sums(session)?;
        self.check(level)?;
        let components = &self.components;
        let estimate = sums.estimate;
        let x = Accuracy::new((estimate * sums.tokens + 1.0) / (sums.tokens + 2.0));
        let t = t_quantile(level, degrees_of_freedom(x, components, sums))?;
        let beyond =
            |p: f64| (estimate - p).powi(2) - t * t * variance(Accuracy::new(p), components, sums);
        Ok(SessionInterval {
            estimate,
            low: if estimate <= 0.0 {
                0.0
            } else {
                root::rising(EDGE, estimate.min(1.0 - EDGE), |p| -beyond(p))
            },
            high: if estimate >= 1.0 {
                1.0
            } else {
                root::rising(estimate.max(EDGE), 1.0 - EDGE, beyond)
            },
            effective_n: x.variance() / variance(x, components, sums),
        })
    }
}

/// V(p).
fn variance(accuracy: Accuracy, components: &Components, session: &SessionSums) -> f64 {
    let probit_reading = accuracy.shared(&components.curves.token);
    let constant_share = components.share_token * accuracy.variance();
    let c_token = f64::midpoint(probit_reading, constant_share);
    Parts::new(accuracy, c_token, components, session).sum()
}

fn degrees_of_freedom(x: Accuracy, components: &Components, session: &SessionSums) -> f64 {
    let c_token = x.shared(&components.curves.token);
    let parts = Parts::new(x, c_token, components, session);
    let error_each = parts.error / components.sessions;
    parts.sum().powi(2)
        / ((parts.token + error_each).powi(2) / components.df_token
            + (parts.listener + error_each).powi(2) / components.df_listener)
}

/// The two-sided critical value of t.
pub(super) fn t_quantile(level: f64, df: f64) -> Result<f64, IntervalError> {
    StudentT::new(df)
        .map(|t| t.quantile(0.5 + level / 2.0))
        .map_err(|_| IntervalError::Level)
}
