//! Step 1 of 4, *sums*: what pairs of judgements inside a session say.
//!
//! Judgement i of a session: word j, listener l, weight ω (mean 1 over the round), answer y of 0 or 1.
//!
//! ```text
//! n = Σω,  n_j = Σ_{i∈j} ω,  T words;   p̂ = mean over words of Σ_{i∈j} ω y / n_j
//! a_i = ω_i/(T n_j),  a_l = Σ_{i∈l} a_i,  S_L = Σ a_l²,  S_E = Σ a_i²
//! ȳ = Σωy/n,  e = y − ȳ,  E2 = Σω²e²,  Ω = Σω²
//! N_T = Σ_j n_j² − Ω,  A_T = Σ_j(Σ ωe)² − E2;   N_L, A_L alike over listeners
//! N_0 = n² − Ω − N_T − N_L,  b_0 = (−E2 − A_T − A_L)/N_0
//! ĉ_T = A_T/N_T − b_0,  ĉ_L = A_L/N_L − b_0,  v̂ = Σωe²/n − b_0
//! ```
//!
//! `ĉ_T`, `ĉ_L` and v̂ are unbiased for the covariance of two judgements of one token, of two by one listener, and for p(1 − p).
//! Where a word was recorded twice in a session, its tokens count together as one, and a listener's judgements of
//! them are averaged: they are no independent evidence.

use rayon::prelude::*;

use super::IntervalError;
use super::Judgement;

/// A sum over all judgements of a session that share a listener, a word, or both.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// What is shared.
    pub(super) key: u64,
    /// Σωe.
    pub(super) deviation: f64,
    /// Σω.
    pub(super) weight: f64,
    /// Σa.
    pub(super) share: f64,
    /// Σa(y − p̂).
    pub(super) residual: f64,
}

/// The sums of one session.
#[derive(Debug, Clone)]
pub struct SessionSums {
    /// p̂.
    pub(super) estimate: f64,
    /// T: words, that is tokens unless a word was recorded twice.
    pub(super) tokens: f64,
    /// n = Σω.
    pub(super) weight: f64,
    /// Whether the judgements differ: 0 < ȳ < 1.
    pub(super) mixed: bool,
    pub(super) token_pairs: f64,
    pub(super) listener_pairs: f64,
    /// `N_0`: pairs that share neither word nor listener.
    pub(super) unshared: f64,
    pub(super) b0: f64,
    pub(super) c_token: f64,
    pub(super) c_listener: f64,
    pub(super) v: f64,
    pub(super) s_listener: f64,
    pub(super) s_error: f64,
    pub(super) by_listener: Vec<Entry>,
    pub(super) by_word: Vec<Entry>,
    pub(super) by_word_and_listener: Vec<Entry>,
}

/// One judgement as the sums need it; `word` is unique over the round, `y` may be an average.
#[derive(Clone, Copy)]
struct Heard {
    word: u32,
    listener: u32,
    y: f64,
    weight: f64,
}

/// The sums of each session; nothing for a session without judgements.
pub(super) fn by_session(
    judgements: &[Judgement],
    sessions: usize,
) -> Result<Vec<Option<SessionSums>>, IntervalError> {
    let mean_weight = mean_weight(judgements)?;
    let words = judgements
        .iter()
        .filter_map(|j| j.word)
        .max()
        .map_or(0, |w| w.saturating_add(1));
    let mut ends = vec![0_usize; sessions];
    for judgement in judgements {
        *ends
            .get_mut(judgement.session as usize)
            .ok_or(IntervalError::Judgement)? += 1;
    }
    let mut total = 0;
    for end in &mut ends {
        total += *end;
        *end = total;
    }
    let nothing = Heard {
        word: 0,
        listener: 0,
        y: 0.0,
        weight: 0.0,
    };
    let mut heard = vec![nothing; judgements.len()];
    let mut free: Vec<usize> = std::iter::once(0).chain(ends.iter().copied()).collect();
    for judgement in judgements {
        let Some(place) = free.get_mut(judgement.session as usize) else {
            continue;
        };
        if let Some(slot) = heard.get_mut(*place) {
            *slot = Heard {
                word: judgement
                    .word
                    .unwrap_or(words.saturating_add(judgement.token)),
                listener: judgement.listener,
                y: f64::from(u8::from(judgement.correct)),
                weight: judgement.weight / mean_weight,
            };
        }
        *place += 1;
    }
    let mut rest = heard.as_mut_slice();
    let mut start = 0;
    let mut own_heard = Vec::with_capacity(sessions);
    for end in ends {
        let (own, others) = rest.split_at_mut(end - start);
        rest = others;
        start = end;
        own_heard.push(own);
    }
    Ok(own_heard.into_par_iter().map(session).collect())
}

/// `m_l`: the weight of each listener's judgements over the round, for those who judged at all.
pub(super) fn listener_loads(judgements: &[Judgement]) -> Vec<f64> {
    let listeners = judgements
        .iter()
        .map(|j| j.listener as usize + 1)
        .max()
        .unwrap_or(0);
    let mut loads = vec![0.0; listeners];
    for judgement in judgements {
        if let Some(load) = loads.get_mut(judgement.listener as usize) {
            *load += judgement.weight;
        }
    }
    loads.retain(|load| *load > 0.0);
    loads
}

fn mean_weight(judgements: &[Judgement]) -> Result<f64, IntervalError> {
    let mut sum = 0.0;
    for judgement in judgements {
        if !(judgement.weight.is_finite() && judgement.weight > 0.0) {
            return Err(IntervalError::Judgement);
        }
        sum += judgement.weight;
    }
    Ok(sum / judgements.len().max(1) as f64)
}

fn session(heard: &mut [Heard]) -> Option<SessionSums> {
    if heard.is_empty() {
        return None;
    }
    // Judgements mostly come word by word: a stable sort finds that.
    heard.sort_by_key(|h| h.word);
    for word in heard.chunk_by_mut(|a, b| a.word == b.word) {
        word.sort_by_key(|h| h.listener);
    }
    let heard = averaged_over_repeats(heard);
    let weight: f64 = heard.iter().map(|h| h.weight).sum();
    let mean = heard.iter().map(|h| h.weight * h.y).sum::<f64>() / weight;
    let words: Vec<(f64, f64)> = heard
        .chunk_by(|a, b| a.word == b.word)
        .map(|word| {
            let weight: f64 = word.iter().map(|h| h.weight).sum();
            let correct: f64 = word.iter().map(|h| h.weight * h.y).sum();
            (weight, correct / weight)
        })
        .collect();
    let tokens = words.len() as f64;
    let estimate = words.iter().map(|(_, share)| share).sum::<f64>() / tokens;
    let cells: Vec<Entry> = heard
        .chunk_by(|a, b| a.word == b.word)
        .zip(&words)
        .flat_map(|(word, (word_weight, _))| {
            word.iter().map(move |h| {
                let share = h.weight / (tokens * word_weight);
                Entry {
                    key: (u64::from(h.word) << 32) | u64::from(h.listener),
                    deviation: h.weight * (h.y - mean),
                    weight: h.weight,
                    share,
                    residual: share * (h.y - estimate),
                }
            })
        })
        .collect();
    let by_word = by_word(&cells);
    let by_listener = by_listener(&cells);
    let mut sums = SessionSums {
        estimate,
        tokens,
        weight,
        mixed: mean > 0.0 && mean < 1.0,
        token_pairs: 0.0,
        listener_pairs: 0.0,
        unshared: 0.0,
        b0: 0.0,
        c_token: 0.0,
        c_listener: 0.0,
        v: 0.0,
        s_listener: by_listener.iter().map(|e| e.share * e.share).sum(),
        s_error: cells.iter().map(|e| e.share * e.share).sum(),
        by_listener,
        by_word,
        by_word_and_listener: cells,
    };
    sums.compare_pairs();
    Some(sums)
}

impl SessionSums {
    /// Fills in what pairs say: `N_T`, `N_L`, `N_0`, `b_0`, ĉ and v̂.
    fn compare_pairs(&mut self) {
        let cells = &self.by_word_and_listener;
        let own_squares = sum(cells, |e| e.weight * e.weight);
        let own_deviations = sum(cells, |e| e.deviation * e.deviation);
        let pairs =
            |entries: &[Entry]| at_least_some(sum(entries, |e| e.weight * e.weight) - own_squares);
        let products =
            |entries: &[Entry]| sum(entries, |e| e.deviation * e.deviation) - own_deviations;
        let (token_pairs, token_products) = (pairs(&self.by_word), products(&self.by_word));
        let (listener_pairs, listener_products) =
            (pairs(&self.by_listener), products(&self.by_listener));
        let all_pairs = self.weight * self.weight - own_squares;
        let unshared = at_least_some(all_pairs - token_pairs - listener_pairs);
        let b0 = if unshared > 0.0 {
            (-own_deviations - token_products - listener_products) / unshared
        } else {
            0.0
        };
        self.v = sum(cells, |e| e.deviation * e.deviation / e.weight) / self.weight - b0;
        self.c_token = ratio(token_products, token_pairs) - b0;
        self.c_listener = ratio(listener_products, listener_pairs) - b0;
        self.token_pairs = token_pairs;
        self.listener_pairs = listener_pairs;
        self.unshared = unshared;
        self.b0 = b0;
    }

    /// The weight that the session's `ĉ_T` has in the round: no more than its judgements.
    pub(super) fn token_weight(&self) -> f64 {
        self.pooled_weight(self.token_pairs)
    }

    /// The weight that the session's `ĉ_L` has in the round.
    pub(super) fn listener_weight(&self) -> f64 {
        self.pooled_weight(self.listener_pairs)
    }

    fn pooled_weight(&self, pairs: f64) -> f64 {
        if self.unshared > 0.0 {
            self.weight.min(pairs)
        } else {
            0.0
        }
    }
}

/// One judgement for each word and listener; the slice is sorted by both.
fn averaged_over_repeats(heard: &[Heard]) -> Vec<Heard> {
    heard
        .chunk_by(|a, b| (a.word, a.listener) == (b.word, b.listener))
        .filter_map(|same| {
            let times = same.len() as f64;
            same.first().map(|first| Heard {
                y: same.iter().map(|h| h.y).sum::<f64>() / times,
                weight: same.iter().map(|h| h.weight).sum::<f64>() / times,
                ..*first
            })
        })
        .collect()
}

/// The cells of a session, which stand word by word, summed over the listeners of each word.
fn by_word(cells: &[Entry]) -> Vec<Entry> {
    let word_of = |cell: &Entry| cell.key >> 32;
    added_up(cells.iter().map(|cell| cell.with_key(word_of(cell))))
}

/// The cells of a session summed over the words of each listener.
fn by_listener(cells: &[Entry]) -> Vec<Entry> {
    let mut order: Vec<(u64, &Entry)> = cells
        .iter()
        .map(|cell| (cell.key & u64::from(u32::MAX), cell))
        .collect();
    order.sort_by_key(|(listener, _)| *listener);
    added_up(
        order
            .into_iter()
            .map(|(listener, cell)| cell.with_key(listener)),
    )
}

/// The entries of several sorted lists summed over equal keys, earlier lists first.
pub(super) fn summed(mut entries: Vec<Entry>) -> Vec<Entry> {
    entries.sort_by_key(|entry| entry.key);
    added_up(entries.into_iter())
}

/// Neighbours with one key as one entry.
fn added_up(entries: impl Iterator<Item = Entry>) -> Vec<Entry> {
    let mut sums: Vec<Entry> = Vec::new();
    for entry in entries {
        match sums.last_mut() {
            Some(sum) if sum.key == entry.key => sum.add(&entry),
            _ => sums.push(entry),
        }
    }
    sums
}

impl Entry {
    fn with_key(self, key: u64) -> Self {
        Self { key, ..self }
    }

    fn add(&mut self, other: &Self) {
        self.deviation += other.deviation;
        self.weight += other.weight;
        self.share += other.share;
        self.residual += other.residual;
    }
}

fn sum(entries: &[Entry], of: impl Fn(&Entry) -> f64) -> f64 {
    entries.iter().map(of).sum()
}

/// A number of pairs, without the rounding that weights leave where there is none.
pub(super) fn at_least_some(pairs: f64) -> f64 {
    if pairs > 1e-7 { pairs } else { 0.0 }
}

fn ratio(products: f64, pairs: f64) -> f64 {
    if pairs > 0.0 { products / pairs } else { 0.0 }
}
