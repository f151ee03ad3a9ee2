//! Step 2 of 4, *components*: one latent correlation r for each kind of sharing, pooled over the round.
//!
//! Shares of p(1 − p) are not constant over p; the correlation of the probits nearly is. With C(p, q; r) of
//! [`Components::covariance`], groups g = child × phase of `T_g` words and `n_g` sessions:
//!
//! ```text
//! p_g = (T_g · mean p̂_s + ½)/(T_g + 1),  v_g = p_g(1 − p_g)
//! w_s = min(n, N_T) for tokens, min(n, N_L) for listeners, 0 if N_0 = 0;  w_g = Σ w_s
//! κ = Σ w_s v̂_s / Σ w_g v_g, cut to [.5, 1.2]
//! r_T, r_L:    κ Σ_g w_g C(p_g, p_g; r) = (G Σ_s w_s ĉ_s + ¼ ρ₀ κ Σ_g w_g v_g)/(G + ¼)
//! r_L×, r_W:   κ [Σ_g w_g C(p_g, p_g; r) + Σ_{g<h} (w_g + w_h) C(p_g, p_h; r)] = the same sum of ĉ_×
//! r_S:         Σ (n_g − 1) C(p_g, p_g; r) = Σ (n_g − 1) ĉ_S,   ĉ_S = var(p̂_s) + mean b_0 − q_0(g)
//! ```
//!
//! G counts the sessions that inform; ρ₀ = .3 (token), .1 (listener) is a quarter of one pseudo-session, felt only
//! in tiny or constant rounds. A right side of 0 or less gives r = 0. Then `r_L` is at least `r_L×`, `r_W` at most `r_T`.

use rayon::prelude::*;

use super::Place;
use super::latent::Accuracy;
use super::latent::Curve;
use super::latent::Term;
use super::latent::correlation;
use super::pairs::Across;
use super::pairs::PhaseSums;
use super::sums::SessionSums;

/// Pseudo-sessions that the prior weighs.
const PRIOR_SESSIONS: f64 = 0.25;
/// ρ₀ of tokens and of listeners: shares of p(1 − p).
const PRIOR_TOKEN: f64 = 0.3;
const PRIOR_LISTENER: f64 = 0.1;

/// The latent correlations of a round, with their degrees of freedom. All correlations lie in [0, .95].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Components {
    /// `r_T`: two judgements of one token.
    pub r_token: f64,
    /// `r_L`: two judgements by one listener in one session.
    pub r_listener: f64,
    /// `r_L×`: two judgements by one listener in different sessions of a child.
    pub r_listener_shared: f64,
    /// `r_W`: two judgements of one word in different sessions of a child.
    pub r_word: f64,
    /// `r_S`: two judgements of one session, beyond those of one phase.
    pub r_session: f64,
    /// `ρ_T`: the token's share of p(1 − p), read as constant over p.
    pub(super) share_token: f64,
    /// `θ_L` and `θ_W`: what listeners and words share across sessions, per squared p(1 − p).
    pub(super) share_listener_shared: f64,
    pub(super) share_word: f64,
    /// `ν_T`, `ν_L`, `ν_S`: degrees of freedom.
    pub(super) df_token: f64,
    pub(super) df_listener: f64,
    pub(super) df_session: f64,
    /// N: sessions with judgements.
    pub(super) sessions: f64,
    pub(super) curves: Curves,
}

/// C at each of the round's correlations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Curves {
    pub(super) token: Curve,
    pub(super) listener: Curve,
    pub(super) listener_shared: Curve,
    pub(super) word: Curve,
    pub(super) session: Curve,
}

impl Components {
    /// C(p, q; r): the covariance of two 0/1 judgements with means `p` and `q` whose probits correlate `r`.
    ///
    /// 8-point Gauss–Legendre over the angle; p and q are cut to [1e-7, 1 − 1e-7], r to [0, .98].
    pub fn covariance(p: f64, q: f64, r: f64) -> f64 {
        Curve::at(r).covariance(Accuracy::new(p), Accuracy::new(q))
    }
}

/// A child in a phase.
#[derive(Debug, Clone)]
pub(super) struct Group {
    child: u32,
    /// Its sessions that have judgements.
    sessions: Vec<usize>,
    accuracy: Accuracy,
    token_weight: f64,
    listener_weight: f64,
}

impl Group {
    fn sums<'a>(
        &self,
        sessions: &'a [Option<SessionSums>],
    ) -> impl Iterator<Item = &'a SessionSums> {
        let own = self.sessions.iter();
        own.filter_map(|session| sessions.get(*session)?.as_ref())
    }
}

/// The groups in the order of child and phase.
pub(super) fn groups(sessions: &[Option<SessionSums>], places: &[Place]) -> Vec<Group> {
    let mut order: Vec<(Place, usize, &SessionSums)> = sessions
        .iter()
        .zip(places)
        .enumerate()
        .filter_map(|(index, (sums, place))| sums.as_ref().map(|sums| (*place, index, sums)))
        .collect();
    order.sort_by_key(|(place, index, _)| (*place, *index));
    order
        .chunk_by(|a, b| a.0 == b.0)
        .filter_map(|group| {
            let (place, _, _) = group.first()?;
            let tokens: f64 = group.iter().map(|(_, _, s)| s.tokens).sum();
            let mean = group.iter().map(|(_, _, s)| s.estimate).sum::<f64>() / group.len() as f64;
            Some(Group {
                child: place.child,
                sessions: group.iter().map(|(_, index, _)| *index).collect(),
                accuracy: Accuracy::new((mean * tokens + 0.5) / (tokens + 1.0)),
                token_weight: group.iter().map(|(_, _, s)| s.token_weight()).sum(),
                listener_weight: group.iter().map(|(_, _, s)| s.listener_weight()).sum(),
            })
        })
        .collect()
}

/// Pools the sums of all sessions into the round's components.
pub(super) fn estimate(
    sessions: &[Option<SessionSums>],
    groups: &[Group],
    listener_loads: &[f64],
) -> Components {
    let present: Vec<&SessionSums> = sessions.iter().flatten().collect();
    let kappa = kappa(&present, groups);
    let r_token = inside_sessions(kappa, PRIOR_TOKEN, &present, groups, &Kind::TOKEN);
    let r_listener = inside_sessions(kappa, PRIOR_LISTENER, &present, groups, &Kind::LISTENER);
    let children: Vec<&[Group]> = groups.chunk_by(|a, b| a.child == b.child).collect();
    let compared: Vec<Vec<Compared<'_>>> = children
        .into_par_iter()
        .map(|child| compared(child, sessions))
        .collect();
    let mut shared = AcrossSessions::default();
    for pair in compared.iter().flatten() {
        shared.add(pair, sessions, kappa);
    }
    let r_listener_shared = correlation(&shared.listener_terms, shared.listener_target);
    let r_word = correlation(&shared.word_terms, shared.word_target).min(r_token);
    let variances: f64 = groups.iter().map(|g| g.accuracy.variance()).sum();
    let squares: f64 = groups.iter().map(|g| g.accuracy.variance().powi(2)).sum();
    let r_listener = r_listener.max(r_listener_shared);
    let r_session = correlation(&shared.session_terms, shared.session_target);
    let curves = Curves {
        token: Curve::at(r_token),
        listener: Curve::at(r_listener),
        listener_shared: Curve::at(r_listener_shared),
        word: Curve::at(r_word),
        session: Curve::at(r_session),
    };
    let shared_at = |curve: &Curve| groups.iter().map(|g| g.accuracy.shared(curve)).sum::<f64>();
    Components {
        r_token,
        r_listener,
        r_listener_shared,
        r_word,
        r_session,
        share_token: shared_at(&curves.token) / variances,
        share_listener_shared: shared_at(&curves.listener_shared) / squares,
        share_word: shared_at(&curves.word) / squares,
        df_token: present.iter().map(|s| s.tokens - 1.0).sum::<f64>().max(1.0),
        df_listener: effective_listeners(listener_loads).max(1.0),
        df_session: shared
            .session_terms
            .iter()
            .map(|t| t.weight)
            .sum::<f64>()
            .max(1.0),
        sessions: present.len() as f64,
        curves,
    }
}

/// What [`inside_sessions`] pools: the weight of a session and of a group, and the session's ĉ.
struct Kind {
    session_weight: fn(&SessionSums) -> f64,
    group_weight: fn(&Group) -> f64,
    covariance: fn(&SessionSums) -> f64,
}

impl Kind {
    const TOKEN: Self = Self {
        session_weight: SessionSums::token_weight,
        group_weight: |g| g.token_weight,
        covariance: |s| s.c_token,
    };
    const LISTENER: Self = Self {
        session_weight: SessionSums::listener_weight,
        group_weight: |g| g.listener_weight,
        covariance: |s| s.c_listener,
    };
}

/// `r_T` or `r_L`.
fn inside_sessions(
    kappa: f64,
    prior_share: f64,
    sessions: &[&SessionSums],
    groups: &[Group],
    kind: &Kind,
) -> f64 {
    let informing = sessions
        .iter()
        .filter(|s| s.mixed && (kind.session_weight)(s) > 0.0)
        .count() as f64;
    let terms: Vec<Term> = groups
        .iter()
        .map(|g| Term {
            p: g.accuracy,
            q: g.accuracy,
            weight: kappa
                * if informing > 0.0 {
                    (kind.group_weight)(g)
                } else {
                    1.0
                },
        })
        .collect();
    let prior: f64 = prior_share * terms.iter().map(|t| t.weight * t.p.variance()).sum::<f64>();
    let seen: f64 = sessions
        .iter()
        .map(|s| (kind.session_weight)(s) * (kind.covariance)(s))
        .sum();
    let target = if informing > 0.0 {
        (informing * seen + PRIOR_SESSIONS * prior) / (informing + PRIOR_SESSIONS)
    } else {
        prior
    };
    correlation(&terms, target)
}

/// κ: the judgements' variance against p(1 − p).
fn kappa(sessions: &[&SessionSums], groups: &[Group]) -> f64 {
    let seen: f64 = sessions.iter().map(|s| s.token_weight() * s.v).sum();
    let full: f64 = groups
        .iter()
        .map(|g| g.token_weight * g.accuracy.variance())
        .sum();
    if full > 0.0 {
        (seen / full).clamp(0.5, 1.2)
    } else {
        0.5
    }
}

/// The pooled equations of `r_L×`, `r_W` and `r_S`.
#[derive(Default)]
struct AcrossSessions {
    listener_terms: Vec<Term>,
    listener_target: f64,
    word_terms: Vec<Term>,
    word_target: f64,
    session_terms: Vec<Term>,
    session_target: f64,
}

/// A phase of a child compared with itself or with another of its phases.
struct Compared<'a> {
    one: &'a Group,
    other: &'a Group,
    weight: f64,
    across: Across,
}

/// Each phase of a child with more than one session, and each pair of its phases.
fn compared<'a>(groups: &'a [Group], sessions: &[Option<SessionSums>]) -> Vec<Compared<'a>> {
    let phases: Vec<(&Group, PhaseSums<'_>)> = groups
        .iter()
        .map(|group| (group, PhaseSums::new(group.sums(sessions).collect())))
        .collect();
    let mut pairs = Vec::new();
    for (index, (one, phase)) in phases.iter().enumerate() {
        if one.sessions.len() > 1 {
            pairs.push(Compared {
                one,
                other: one,
                weight: one.token_weight,
                across: phase.within(),
            });
        }
        for (other, other_phase) in phases.iter().skip(index + 1) {
            pairs.push(Compared {
                one,
                other,
                weight: one.token_weight + other.token_weight,
                across: phase.between(other_phase),
            });
        }
    }
    pairs
}

impl AcrossSessions {
    fn add(&mut self, pair: &Compared<'_>, sessions: &[Option<SessionSums>], kappa: f64) {
        let term = Term {
            p: pair.one.accuracy,
            q: pair.other.accuracy,
            weight: pair.weight * kappa,
        };
        if let Some(covariance) = pair.across.c_listener {
            self.listener_terms.push(term);
            self.listener_target += pair.weight * covariance;
        }
        if let Some(covariance) = pair.across.c_word {
            self.word_terms.push(term);
            self.word_target += pair.weight * covariance;
        }
        if std::ptr::eq(pair.one, pair.other) {
            self.add_spread_of_days(pair.one, sessions, pair.across.q0);
        }
    }

    fn add_spread_of_days(&mut self, group: &Group, sessions: &[Option<SessionSums>], q0: f64) {
        let own: Vec<&SessionSums> = group.sums(sessions).collect();
        let count = own.len() as f64;
        let mean = own.iter().map(|s| s.estimate).sum::<f64>() / count;
        let squares: f64 = own.iter().map(|s| (s.estimate - mean).powi(2)).sum();
        let mean_b0 = own.iter().map(|s| s.b0).sum::<f64>() / count;
        self.session_target += squares + (count - 1.0) * (mean_b0 - q0);
        self.session_terms.push(Term {
            p: group.accuracy,
            q: group.accuracy,
            weight: count - 1.0,
        });
    }
}

/// (Σm)²/Σm² − 1.
fn effective_listeners(loads: &[f64]) -> f64 {
    let sum: f64 = loads.iter().sum();
    let squares: f64 = loads.iter().map(|m| m * m).sum();
    if squares > 0.0 {
        sum * sum / squares - 1.0
    } else {
        0.0
    }
}
