//! Step 1 of 4, continued: pairs of judgements across the sessions of one child.
//!
//! Over pairs of sessions s ≠ s′ of a phase g, or between phases g and h:
//!
//! ```text
//! X_L = Σ_l over pairs of Σωe_sl · Σωe_s′l  = Σ_l[(Σ_s ·)² − Σ_s (·)²],   between phases Σ_l (·)_gl (·)_hl
//! X_W the same over words, X_B over (word, listener);  N_L, N_W, N_B the same with ω for ωe
//! q_0 = (−X_L − X_W + X_B)/(N_all − N_L − N_W + N_B)
//! ĉ_L× = (X_L − X_B)/(N_L − N_B) − q_0,   ĉ_W× = (X_W − X_B)/(N_W − N_B) − q_0
//! ```

use super::sums::Entry;
use super::sums::SessionSums;
use super::sums::at_least_some;
use super::sums::summed;

/// A phase of a child with its sums over all its sessions.
pub(super) struct PhaseSums<'a> {
    sessions: Vec<&'a SessionSums>,
    by_listener: Vec<Entry>,
    by_word: Vec<Entry>,
    by_word_and_listener: Vec<Entry>,
    weight: f64,
}

/// What pairs across sessions say.
#[derive(Debug, Clone, Copy)]
pub(super) struct Across {
    /// `ĉ_L×`: of two judgements by one listener; nothing where no listener came twice.
    pub(super) c_listener: Option<f64>,
    /// `ĉ_W×`: of two judgements of one word; nothing where no word came twice.
    pub(super) c_word: Option<f64>,
    /// `q_0`: of two judgements that share nothing but the child.
    pub(super) q0: f64,
}

impl<'a> PhaseSums<'a> {
    pub(super) fn new(sessions: Vec<&'a SessionSums>) -> Self {
        let all = |entries: fn(&SessionSums) -> &[Entry]| {
            let together = sessions.iter().flat_map(|s| entries(s)).copied().collect();
            summed(together)
        };
        Self {
            by_listener: all(|s| &s.by_listener),
            by_word: all(|s| &s.by_word),
            by_word_and_listener: all(|s| &s.by_word_and_listener),
            weight: sessions.iter().map(|s| s.weight).sum(),
            sessions,
        }
    }

    /// Pairs of different sessions inside this phase.
    pub(super) fn within(&self) -> Across {
        let inside = |all: &[Entry], own: fn(&SessionSums) -> &[Entry]| {
            let mut products = Products::default();
            for entry in all {
                products.add(entry, entry, 1.0);
            }
            for session in &self.sessions {
                for entry in own(session) {
                    products.add(entry, entry, -1.0);
                }
            }
            products
        };
        let own_pairs: f64 = self.sessions.iter().map(|s| s.weight * s.weight).sum();
        across(
            &inside(&self.by_listener, |s| &s.by_listener),
            &inside(&self.by_word, |s| &s.by_word),
            &inside(&self.by_word_and_listener, |s| &s.by_word_and_listener),
            self.weight * self.weight - own_pairs,
        )
    }

    /// Pairs of one session of this phase and one of another.
    pub(super) fn between(&self, other: &Self) -> Across {
        across(
            &joined(&self.by_listener, &other.by_listener),
            &joined(&self.by_word, &other.by_word),
            &joined(&self.by_word_and_listener, &other.by_word_and_listener),
            self.weight * other.weight,
        )
    }
}

/// X and N over one kind of sharing.
#[derive(Debug, Default)]
struct Products {
    deviations: f64,
    pairs: f64,
}

impl Products {
    fn add(&mut self, one: &Entry, other: &Entry, sign: f64) {
        self.deviations += sign * one.deviation * other.deviation;
        self.pairs += sign * one.weight * other.weight;
    }
}

/// The products over keys that both lists hold; both are sorted by key.
fn joined(one: &[Entry], other: &[Entry]) -> Products {
    let mut products = Products::default();
    matching(one, other, |a, b| products.add(a, b, 1.0));
    products
}

/// Calls `each` for every key that both sorted lists hold.
pub(super) fn matching(one: &[Entry], other: &[Entry], mut each: impl FnMut(&Entry, &Entry)) {
    let mut others = other.iter().peekable();
    for entry in one {
        while others.next_if(|o| o.key < entry.key).is_some() {}
        if let Some(same) = others.next_if(|o| o.key == entry.key) {
            each(entry, same);
        }
    }
}

fn across(listeners: &Products, words: &Products, both: &Products, all_pairs: f64) -> Across {
    let unshared = at_least_some(all_pairs - listeners.pairs - words.pairs + both.pairs);
    let q0 = if unshared > 0.0 {
        (-listeners.deviations - words.deviations + both.deviations) / unshared
    } else {
        0.0
    };
    let beyond = |kind: &Products| {
        let pairs = at_least_some(kind.pairs - both.pairs);
        (pairs > 0.0).then(|| (kind.deviations - both.deviations) / pairs - q0)
    };
    Across {
        c_listener: beyond(listeners),
        c_word: beyond(words),
        q0,
    }
}
