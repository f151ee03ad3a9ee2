//! Variance components from the moments: one linear system, with what cannot be told apart counted together.

use super::Observation;
use super::moments::Moment;
use super::moments::Sharing;
use super::moments::moments;

/// A source of variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Facet {
    /// Between children.
    Child,
    /// Between sessions of a child.
    Session,
    /// Between words, alike for all children.
    Word,
    /// A word that is harder for one child than for another.
    WordByChild,
    /// One production: a word in a session.
    Token,
    /// A listener's leniency.
    Listener,
    /// A listener who hears one child differently.
    ListenerByChild,
    /// A listener who hears one session differently.
    ListenerBySession,
    /// A listener who hears one word differently.
    ListenerByWord,
    /// A listener who hears one child's word differently.
    ListenerByWordByChild,
    /// All else: a listener's single judgement of a token.
    Residual,
}

impl Facet {
    const ALL: [Self; 11] = [
        Self::Child,
        Self::Session,
        Self::Word,
        Self::WordByChild,
        Self::Token,
        Self::Listener,
        Self::ListenerByChild,
        Self::ListenerBySession,
        Self::ListenerByWord,
        Self::ListenerByWordByChild,
        Self::Residual,
    ];

    /// As reports call it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Child => "child",
            Self::Session => "session",
            Self::Word => "word",
            Self::WordByChild => "word x child",
            Self::Token => "token",
            Self::Listener => "listener",
            Self::ListenerByChild => "listener x child",
            Self::ListenerBySession => "listener x session",
            Self::ListenerByWord => "listener x word",
            Self::ListenerByWordByChild => "listener x word x child",
            Self::Residual => "residual",
        }
    }

    /// Whether two judgements that share this much share the facet.
    fn is_shared(self, sharing: Sharing, same_listener: bool) -> bool {
        let word = matches!(
            sharing,
            Sharing::Word | Sharing::ChildAndWord | Sharing::Token
        );
        let child = !matches!(sharing, Sharing::Nothing | Sharing::Word);
        let session = matches!(sharing, Sharing::Session | Sharing::Token);
        match self {
            Self::Child => child,
            Self::Session => session,
            Self::Word => word,
            Self::WordByChild => word && child,
            Self::Token => sharing == Sharing::Token,
            Self::Listener => same_listener,
            Self::ListenerByChild => same_listener && child,
            Self::ListenerBySession => same_listener && session,
            Self::ListenerByWord => same_listener && word,
            Self::ListenerByWordByChild => same_listener && word && child,
            Self::Residual => same_listener && sharing == Sharing::Token,
        }
    }
}

/// One component.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// What it is called: the last of those counted in it that is `token` or `residual`, else the first.
    pub facet: Facet,
    /// Further facets that this design cannot tell from it, counted in it.
    pub with: Vec<Facet>,
    /// The variance, in squared units of the score; may come out below 0, which is chance and is kept.
    pub variance: f64,
}

/// All components that a design can tell apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// In the order from child to residual.
    pub components: Vec<Component>,
    /// Facets of which nothing is seen, for the data hold one of each only.
    pub unseen: Vec<Facet>,
}

/// Estimates the variance components of judgements.
///
/// ```text
/// ½ E(y − y′)² over pairs that share exactly K  =  Σ of the components that K does not share
/// ```
///
/// `observations`: one a judgement, in any order, with any holes. Facets that no pair tells apart are counted together; one
/// that no pair tells at all is named as unseen. Units: squared score. Nothing where there are no two judgements.
/// Sources as in the module.
///
/// ```
/// use fairhearing::stats::precision::{Facet, Observation, components};
/// // Two listeners, of whom one always scores 1 higher: all variance is the listener's.
/// let heard = |word: u32, listener: u32| Observation {
///     child: 0, session: 0, token: word, word: Some(word), listener, value: f64::from(listener),
/// };
/// let all: Vec<_> = (0..3).flat_map(|w| (0..2).map(move |l| heard(w, l))).collect();
/// let found = components(&all);
/// assert!((found.variance(Facet::Listener) - 0.5).abs() < 1e-12);
/// assert!(found.variance(Facet::Token).abs() < 1e-12);
/// ```
pub fn components(observations: &[Observation]) -> Components {
    let moments = moments(observations);
    let (seen, unseen): (Vec<_>, Vec<_>) = Facet::ALL
        .into_iter()
        .map(|facet| (facet, pattern(facet, &moments)))
        .partition(|(_, pattern)| pattern.iter().any(|unshared| *unshared));
    let mut columns: Vec<(Vec<Facet>, Vec<bool>)> = Vec::new();
    for (facet, pattern) in seen {
        match columns.iter_mut().find(|(_, other)| *other == pattern) {
            Some((facets, _)) => facets.push(facet),
            None => columns.push((vec![facet], pattern)),
        }
    }
    let variances = solve(&columns, &moments);
    let mut components: Vec<Component> = columns
        .into_iter()
        .zip(variances)
        .filter_map(|((facets, _), variance)| named(facets, variance))
        .collect();
    components.sort_by_key(|c| Facet::ALL.iter().position(|facet| *facet == c.facet));
    Components {
        components,
        unseen: unseen.into_iter().map(|(facet, _)| facet).collect(),
    }
}

impl Components {
    /// The variance of a facet as it came out; 0 where it is unseen or counted in another.
    pub fn variance(&self, facet: Facet) -> f64 {
        self.get(facet).map_or(0.0, |component| component.variance)
    }

    /// The component that goes by this facet's name.
    pub fn get(&self, facet: Facet) -> Option<&Component> {
        self.components
            .iter()
            .find(|component| component.facet == facet)
    }

    /// As [`Components::variance`], with what came out below 0 as 0.
    pub(super) fn used(&self, facet: Facet) -> f64 {
        self.variance(facet).max(0.0)
    }
}

/// For each moment whether its pairs do not share the facet.
fn pattern(facet: Facet, moments: &[Moment]) -> Vec<bool> {
    moments
        .iter()
        .map(|moment| !facet.is_shared(moment.sharing, moment.same_listener))
        .collect()
}

fn named(mut facets: Vec<Facet>, variance: f64) -> Option<Component> {
    let last = [Facet::Residual, Facet::Token]
        .into_iter()
        .find(|facet| facets.contains(facet));
    let facet = last.or_else(|| facets.first().copied())?;
    facets.retain(|other| *other != facet);
    Some(Component {
        facet,
        with: facets,
        variance,
    })
}

/// Least squares of the moments on the columns, weighted by pairs; exact where there are as many of the one as of the other.
#[expect(
    clippy::indexing_slicing,
    reason = "elimination on a square matrix whose bounds are its loops"
)]
fn solve(columns: &[(Vec<Facet>, Vec<bool>)], moments: &[Moment]) -> Vec<f64> {
    let n = columns.len();
    let total: f64 = moments.iter().map(|moment| moment.pairs).sum();
    let exact = n == moments.len();
    let mut rows: Vec<Vec<f64>> = Vec::new();
    for equation in 0..n {
        let mut row = vec![0.0; n + 1];
        for (place, moment) in moments.iter().enumerate() {
            // A square system is solved as it stands, a tall one by its normal equations.
            let factor = if exact {
                f64::from(u8::from(place == equation))
            } else {
                f64::from(u8::from(columns[equation].1[place])) * moment.pairs / total
            };
            for (column, (_, pattern)) in columns.iter().enumerate() {
                row[column] += factor * f64::from(u8::from(pattern[place]));
            }
            row[n] += factor * moment.half_square;
        }
        rows.push(row);
    }
    for pivot in 0..n {
        let best =
            (pivot..n).max_by(|a, b| rows[*a][pivot].abs().total_cmp(&rows[*b][pivot].abs()));
        rows.swap(pivot, best.unwrap_or(pivot));
        let divisor = rows[pivot][pivot];
        if divisor.abs() < 1e-12 {
            continue;
        }
        let top = rows[pivot].clone();
        for (place, row) in rows.iter_mut().enumerate() {
            let factor = row[pivot] / divisor;
            if place != pivot && factor != 0.0 {
                for column in pivot..=n {
                    row[column] -= factor * top[column];
                }
            }
        }
    }
    (0..n)
        .map(|place| {
            let divisor = rows[place][place];
            if divisor.abs() < 1e-12 {
                0.0
            } else {
                rows[place][n] / divisor
            }
        })
        .collect()
}
