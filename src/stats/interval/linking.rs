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
    /// How many links would bring the half width of `ci` under the bound that was asked for.
    pub links_needed: usize,
    /// Whether there are as many.
    pub enough: bool,
    /// Whether they put the panel on one scale with the reference: where they are enough, or [`Leniency::place_together`] says so.
    pub places: bool,
}

/// The fewest links with which panels are put on one scale, however alike they hear (ours).
pub const FEWEST_LINKS: usize = 8;

impl Leniency {
    /// `half_width`: how wide the interval of the difference may be to either side, as a share; `level`: its confidence.
    pub fn of(tokens: &[LinkToken], half_width: f64, level: f64) -> Self {
        let differences = differences(tokens);
        let links = differences.len();
        let n = links as f64;
        let difference = differences.iter().sum::<f64>() / n.max(1.0);
        let spread = if links > 1 {
            let squares: f64 = differences.iter().map(|d| (d - difference).powi(2)).sum();
            (squares / (n - 1.0)).sqrt()
        } else {
            // Two shares of nine judgements each, of a token at one half: √(2 · ¼ / 9).
            0.236
        };
        let half = |links: usize| {
            let n = links as f64;
            t_quantile(level, n - 1.0).map_or(f64::INFINITY, |t| t * spread / n.sqrt())
        };
        let links_needed = (FEWEST_LINKS..=MOST_LINKS)
            .find(|links| half(*links) <= half_width)
            .unwrap_or(MOST_LINKS);
        let shift = log_odds_ratio(tokens, None);
        let se = shift.and_then(|_| jackknife(tokens));
        let enough = links >= links_needed && se.is_some();
        Self {
            links,
            difference,
            ci: (links > 1).then(|| {
                let half = half(links);
                [(difference - half).max(-1.0), (difference + half).min(1.0)]
            }),
            shift,
            se,
            links_needed,
            enough,
            places: enough,
        }
    }

    /// Places a panel by its links to several panels together, where those to none of them are enough alone: the mean
    /// difference over all of them, its spread pooled within panels, has a half width of at most `half_width`.
    ///
    /// `beside`: how the panel hears beside each reference. `once`: for each of these the tokens shared with it, each token
    /// once whoever else judged it.
    pub fn place_together(
        beside: &mut [Self],
        once: &[Vec<LinkToken>],
        half_width: f64,
        level: f64,
    ) {
        let groups = once.iter().filter(|tokens| tokens.len() > 1);
        let (mut squares, mut links, mut references) = (0.0, 0, 0);
        for tokens in groups {
            let differences = differences(tokens);
            let mean = differences.iter().sum::<f64>() / differences.len() as f64;
            squares += differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>();
            links += differences.len();
            references += 1;
        }
        let df = links.saturating_sub(references) as f64;
        let half = t_quantile(level, df).map(|t| t * (squares / df / links as f64).sqrt());
        let alone = beside.iter().any(|leniency| leniency.enough);
        if !alone && half.is_ok_and(|half| half <= half_width) {
            for leniency in beside {
                leniency.places = leniency.links >= FEWEST_LINKS && leniency.se.is_some();
            }
        }
    }
}

fn differences(tokens: &[LinkToken]) -> Vec<f64> {
    let share = |[correct, judged]: [f64; 2]| correct / judged;
    tokens
        .iter()
        .map(|token| share(token.panel) - share(token.reference))
        .collect()
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
    /// `links[r]`: for panel r every earlier panel with which it shares tokens, and its leniency beside that one. The
    /// estimates of one panel are weighted by their precision.
    ///
    /// Nothing where a panel after the first has no link that tells anything.
    pub fn of(links: &[Vec<(usize, Leniency)>]) -> Option<Self> {
        let n = links.len();
        let mut scale = Self {
            shifts: vec![0.0; n],
            covariances: vec![vec![0.0; n]; n],
            dfs: vec![f64::INFINITY; n],
        };
        for (panel, earlier) in links.iter().enumerate().skip(1) {
            let known: Vec<(usize, f64, f64, usize)> = earlier
                .iter()
                .filter(|(other, leniency)| *other < panel && leniency.places)
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
