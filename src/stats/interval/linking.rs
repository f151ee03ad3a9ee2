//! Linking: how much more lenient one panel is than another, from tokens that both heard, and several panels on one scale.
//!
//! A token that both panels judged is a stratum of its own: whatever its quality, the odds ratio inside it tells the
//! panels apart. Over tokens k with c of n judged correct by the panel and a of m by the reference, N = n + m:
//!
//! ```text
//! δ = ln Σ_k c(m − a)/N − ln Σ_k a(n − c)/N      (Mantel & Haenszel 1959, J. Natl Cancer Inst. 22, 719–748)
//! se² = (K − 1)/K · Σ_k (δ_(k) − δ̄)²                          (jackknife over tokens: these panels, tokens like these)
//! ```
//!
//! How well the panels are linked is told in points: the mean difference of the tokens' shares, with a paired t interval.

use std::collections::BTreeMap;

use super::session::t_quantile;

/// One token that two panels judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkToken {
    /// Judgements `correct` and all judgements by the reference.
    pub reference: [f64; 2],
    /// The same by the panel that is to be placed.
    pub panel: [f64; 2],
}

/// How a panel hears beside a reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leniency {
    /// Tokens that both judged.
    pub links: usize,
    /// Mean share of `correct` by the panel less that by the reference, in [−1, 1].
    pub difference: f64,
    /// Its interval, over tokens like these.
    pub ci: Option<[f64; 2]>,
    /// δ, in log odds of one token: above 0 is more lenient. Nothing where the tokens cannot tell.
    pub shift: Option<f64>,
    /// The standard error of δ.
    pub se: Option<f64>,
    /// The standard deviation of the tokens' differences.
    pub spread: f64,
}

/// The fewest links with which two panels are put on one scale, however alike they hear (ours).
pub const FEWEST_LINKS: usize = 8;

impl Leniency {
    /// `level`: the confidence of the interval.
    pub fn of(tokens: &[LinkToken], level: f64) -> Self {
        let share = |[correct, judged]: [f64; 2]| correct / judged;
        let differences: Vec<f64> = tokens
            .iter()
            .map(|token| share(token.panel) - share(token.reference))
            .collect();
        let links = differences.len();
        let n = links as f64;
        let difference = differences.iter().sum::<f64>() / n.max(1.0);
        let spread = if links > 1 {
            let squares: f64 = differences.iter().map(|d| (d - difference).powi(2)).sum();
            (squares / (n - 1.0)).sqrt()
        } else {
            UNKNOWN_SPREAD
        };
        let shift = log_odds_ratio(tokens, None);
        let se = shift.and_then(|_| jackknife(tokens));
        Self {
            links,
            difference,
            ci: (links > 1).then(|| {
                let half = half_width(links, 1, spread, level);
                [(difference - half).max(-1.0), (difference + half).min(1.0)]
            }),
            shift,
            se,
            spread,
        }
    }

    /// Whether it can help to place a panel.
    const fn counts(&self) -> bool {
        self.links >= FEWEST_LINKS && self.se.is_some()
    }
}

/// Two shares of nine judgements each, of a token at one half: √(2 · ¼ / 9).
pub const UNKNOWN_SPREAD: f64 = 0.236;

/// Half of the interval of a difference, from so many links to so many other panels.
fn half_width(links: usize, panels: usize, spread: f64, level: f64) -> f64 {
    let n = links as f64;
    t_quantile(level, n - panels as f64).map_or(f64::INFINITY, |t| t * spread / n.sqrt())
}

/// How many links to so many other panels bring the half width of the difference under a bound, [`FEWEST_LINKS`] at least.
///
/// `spread`: the standard deviation of a token's difference between two panels; `bound`: a share; `level`: the confidence.
pub fn links_needed(panels: usize, spread: f64, bound: f64, level: f64) -> usize {
    (FEWEST_LINKS..=MOST_LINKS)
        .find(|links| half_width(*links, panels, spread, level) <= bound)
        .unwrap_or(MOST_LINKS)
}

/// How a panel is linked to all earlier ones together.
///
/// An earlier panel i counts that shares n(i) tokens, [`FEWEST_LINKS`] or more, and tells a shift. Each has a difference of
/// its own; the spread s(i) of tokens about these is pooled, and the links of all panels are enough where the half width of
/// an interval of their mean is under the bound:
///
/// ```text
/// s² = Σ (n(i) − 1) s(i)² / Σ (n(i) − 1),     t · s / √Σ n(i) ≤ bound, t with Σ (n(i) − 1) degrees of freedom
/// ```
///
/// What the earlier panels' own places lack in certainty is not in this bound; it is in every interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Linking {
    /// Every earlier panel by its place, with the leniency beside it.
    pub beside: Vec<(usize, Leniency)>,
    /// Tokens shared with the panels that count; where none does, with the one that shares most.
    pub links: usize,
    /// How many would do.
    pub links_needed: usize,
    /// Whether there are as many.
    pub enough: bool,
}

/// How each of several panels is linked to the earlier ones. `heard`: of each panel the judgements `correct` and all
/// judgements of its tokens. A token links a panel once only, to the first panel that heard it: counted again it would
/// look like news.
pub fn linkings<K: Ord>(heard: &[&BTreeMap<K, [f64; 2]>], bound: f64, level: f64) -> Vec<Linking> {
    let beside = |panel: usize, other: usize, reference: &BTreeMap<K, [f64; 2]>| {
        let (Some(own), before) = (heard.get(panel), heard.iter().take(other)) else {
            return Vec::new();
        };
        own.iter()
            .filter(|(token, _)| !before.clone().any(|panel| panel.contains_key(token)))
            .filter_map(|(token, panel)| {
                Some(LinkToken {
                    reference: *reference.get(token)?,
                    panel: *panel,
                })
            })
            .collect()
    };
    (0..heard.len())
        .map(|panel| {
            let earlier = heard.iter().take(panel).enumerate();
            let beside = earlier.map(|(other, reference)| {
                let tokens = beside(panel, other, reference);
                (other, Leniency::of(&tokens, level))
            });
            Linking::of(beside.collect(), bound, level)
        })
        .collect()
}

impl Linking {
    /// `bound`: how wide the interval of the difference may be to either side, as a share; `level`: its confidence.
    pub fn of(beside: Vec<(usize, Leniency)>, bound: f64, level: f64) -> Self {
        let leniencies = || beside.iter().map(|(_, leniency)| leniency);
        let counted: Vec<&Leniency> = leniencies().filter(|l| l.counts()).collect();
        let any = !counted.is_empty();
        let told = if any {
            counted
        } else {
            leniencies().max_by_key(|l| l.links).into_iter().collect()
        };
        let links = told.iter().map(|l| l.links).sum();
        let free = |l: &Leniency| l.links.saturating_sub(1) as f64;
        let all: f64 = told.iter().map(|l| free(l)).sum();
        let squares: f64 = told.iter().map(|l| free(l) * l.spread * l.spread).sum();
        let spread = if all > 0.0 {
            (squares / all).sqrt()
        } else {
            UNKNOWN_SPREAD
        };
        let links_needed = links_needed(told.len().max(1), spread, bound, level);
        Self {
            enough: any && links >= links_needed,
            links,
            links_needed,
            beside,
        }
    }
}

/// Above this nobody asks for more.
const MOST_LINKS: usize = 2_000;

fn log_odds_ratio(tokens: &[LinkToken], without: Option<usize>) -> Option<f64> {
    let (mut up, mut down) = (0.0, 0.0);
    for (place, token) in tokens.iter().enumerate() {
        if without == Some(place) {
            continue;
        }
        let ([a, m], [c, n]) = (token.reference, token.panel);
        up += c * (m - a) / (m + n);
        down += a * (n - c) / (m + n);
    }
    (up > 0.0 && down > 0.0).then(|| (up / down).ln())
}

fn jackknife(tokens: &[LinkToken]) -> Option<f64> {
    let n = tokens.len() as f64;
    let without: Vec<f64> = (0..tokens.len())
        .map(|place| log_odds_ratio(tokens, Some(place)))
        .collect::<Option<_>>()?;
    let mean = without.iter().sum::<f64>() / n;
    let squares: f64 = without.iter().map(|d| (d - mean).powi(2)).sum();
    let se = (squares * (n - 1.0) / n).sqrt();
    (se.is_finite() && n > 1.0).then_some(se)
}

/// Several panels on the scale of the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// How lenient each panel is beside the first, in log odds of one token.
    pub shifts: Vec<f64>,
    /// Covariances of these.
    covariances: Vec<Vec<f64>>,
    /// Degrees of freedom of each shift.
    dfs: Vec<f64>,
}

impl Scale {
    /// `links[r]`: how panel r is linked to the earlier ones. The estimates of one panel are weighted by their precision.
    ///
    /// Nothing where a panel after the first is not linked enough.
    pub fn of(links: &[Linking]) -> Option<Self> {
        let n = links.len();
        let mut scale = Self {
            shifts: vec![0.0; n],
            covariances: vec![vec![0.0; n]; n],
            dfs: vec![f64::INFINITY; n],
        };
        for (panel, linking) in links.iter().enumerate().skip(1) {
            let known: Vec<(usize, f64, f64, usize)> = linking
                .beside
                .iter()
                .filter(|(other, leniency)| *other < panel && linking.enough && leniency.counts())
                .filter_map(|(other, l)| Some((*other, l.shift?, l.se?.max(1e-6), l.links)))
                .collect();
            let precision =
                |other: usize, se: f64| 1.0 / (se * se + scale.covariance(other, other));
            let total: f64 = known
                .iter()
                .map(|(other, _, se, _)| precision(*other, *se))
                .sum();
            if total <= 0.0 {
                return None;
            }
            let weighted: Vec<(usize, f64, f64, f64)> = known
                .iter()
                .map(|(other, shift, se, _)| (*other, precision(*other, *se) / total, *shift, *se))
                .collect();
            let df: usize = known.iter().map(|(.., links)| links - 1).sum();
            scale.add(panel, &weighted, df as f64);
        }
        Some(scale)
    }

    /// Adds a panel from its weighted links: other panel, weight, shift beside it, standard error.
    fn add(&mut self, panel: usize, links: &[(usize, f64, f64, f64)], df: f64) {
        let shift: f64 = links
            .iter()
            .map(|(other, weight, shift, _)| weight * (self.shift(*other) + shift))
            .sum();
        let own: f64 = links
            .iter()
            .map(|(_, weight, _, se)| (weight * se).powi(2))
            .sum();
        let with = |other: usize| -> f64 {
            links
                .iter()
                .map(|(linked, weight, ..)| weight * self.covariance(*linked, other))
                .sum()
        };
        let covariances: Vec<f64> = (0..panel).map(with).collect();
        let inherited: f64 = links
            .iter()
            .map(|(linked, weight, ..)| weight * covariances.get(*linked).copied().unwrap_or(0.0))
            .sum();
        for (other, covariance) in covariances.into_iter().enumerate() {
            self.set(panel, other, covariance);
            self.set(other, panel, covariance);
        }
        self.set(panel, panel, own + inherited);
        if let Some(slot) = self.shifts.get_mut(panel) {
            *slot = shift;
        }
        if let Some(slot) = self.dfs.get_mut(panel) {
            *slot = df;
        }
    }

    fn set(&mut self, row: usize, column: usize, covariance: f64) {
        if let Some(slot) = self
            .covariances
            .get_mut(row)
            .and_then(|row| row.get_mut(column))
        {
            *slot = covariance;
        }
    }

    /// How lenient a panel is beside the first.
    pub fn shift(&self, panel: usize) -> f64 {
        self.shifts.get(panel).copied().unwrap_or(0.0)
    }

    /// The covariance of two shifts; with itself the variance: the linking error.
    pub fn covariance(&self, one: usize, other: usize) -> f64 {
        let row = self.covariances.get(one);
        row.and_then(|row| row.get(other)).copied().unwrap_or(0.0)
    }

    /// The degrees of freedom of a shift.
    pub fn df(&self, panel: usize) -> f64 {
        self.dfs.get(panel).copied().unwrap_or(f64::INFINITY)
    }
}
