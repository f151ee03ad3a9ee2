//! Dawid and Skene's latent classes.

#![expect(
    clippy::indexing_slicing,
    reason = "raters and categories of a table lie within its own size"
)]

use super::super::Undefined;
use super::super::table::Table;
use super::classes::guard_against_swapped_classes;

/// How the latent classes are fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Config {
    /// Pseudo-judgements in each cell of each rater's error rates; 0 is maximum likelihood.
    pub prior: f64,
    /// Relative gain of the objective below which the fit has converged.
    pub tolerance: f64,
    /// Iterations after which it is given up.
    pub most_iterations: u32,
}

impl Default for Config {
    /// A tenth of a judgement a cell: too little to be seen beside data, enough that a listener without error stays believable.
    fn default() -> Self {
        Self {
            prior: 0.1,
            tolerance: 1e-12,
            most_iterations: 5000,
        }
    }
}

/// Fitted latent classes: what each item probably is, and how each rater errs.
#[derive(Debug, Clone, PartialEq)]
pub struct LatentClass {
    /// The share of items in each class.
    pub prevalence: Vec<f64>,
    /// For each item the probability of each class, row by row.
    pub posterior: Vec<f64>,
    /// For each rater, class by class, the probability of each label.
    pub error_rates: Vec<f64>,
    /// Σ over items of ln Σ over classes of prevalence × Π of error rates; without the multinomial constant and the prior.
    pub log_likelihood: f64,
    /// Iterations of the start that was taken.
    pub iterations: u32,
    /// Whether it converged.
    pub converged: bool,
    /// Whether the classes came out swapped and were exchanged.
    pub swapped: bool,
    /// Starts that were tried, and how many of them ended at the same likelihood as the one taken.
    pub starts: (u32, u32),
    judgements: Vec<f64>,
}

/// Latent classes by EM from several starts: the best fit, its classes named by their labels.
///
/// ```text
/// P(labels of item i) = Σ_j p_j Π_g Π_c π_g(j, c)^n_igc
/// E: T_ij ∝ p_j Π π_g(j, c)^n_igc                       (in logarithms)
/// M: p_j = mean of T_ij;   π_g(j, c) = (λ + Σ_i T_ij n_igc) / (qλ + Σ_i T_ij n_ig·)
/// ```
///
/// `n_igc`: how often rater g gave item i label c (repeated ratings are counts); `λ`: [`Config::prior`]. Items without a judgement get
/// the prevalence. Starts, all without chance: the share of labels of each item, its majority, and the shares by either half of the
/// raters. Given its class, raters are taken to err independently: tokens on the border break that and make the posterior too sure.
///
/// Dawid & Skene (1979), Appl. Stat. 28, 20–28.
///
/// # Errors
/// [`Undefined::NoJudgements`], or [`Undefined::OneCategoryScale`] for a scale of one category.
pub fn dawid_skene(table: &Table, config: Config) -> Result<LatentClass, Undefined> {
    let (mut best, mut best_objective) = fit_from(table, config, &label_shares(table, |_| true))?;
    let mut objectives = vec![best_objective];
    for start in further_starts(table) {
        let (fit, objective) = fit_from(table, config, &start)?;
        objectives.push(objective);
        if objective > best_objective + 1e-7 * best_objective.abs() {
            (best, best_objective) = (fit, objective);
        }
    }
    let near =
        |objective: &&f64| (**objective - best_objective).abs() <= 1e-6 * best_objective.abs();
    let same = objectives.iter().filter(near).count();
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    best.starts = (count(objectives.len()), count(same));
    best.swapped = guard_against_swapped_classes(&mut best);
    Ok(best)
}

/// Latent classes by EM from the shares of labels alone: one fit, as the 1979 paper made it.
///
/// # Errors
/// As [`dawid_skene`].
pub fn dawid_skene_from_shares(table: &Table, config: Config) -> Result<LatentClass, Undefined> {
    Ok(fit_from(table, config, &label_shares(table, |_| true))?.0)
}

impl LatentClass {
    /// The probability that `rater` gives `label` to an item of `class`.
    pub fn error_rate(&self, rater: usize, class: usize, label: usize) -> f64 {
        let q = self.prevalence.len();
        self.error_rates
            .get((rater * q + class) * q + label)
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// The probability that an item is of a class.
    pub fn probability(&self, item: usize, class: usize) -> f64 {
        self.posterior
            .get(item * self.prevalence.len() + class)
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// Judgements, in expectation, of items of `class` that got `label`.
    pub(super) fn expected(&self, class: usize, label: usize) -> f64 {
        let of_raters = self.judgements.iter().enumerate();
        of_raters
            .map(|(rater, n)| n * self.prevalence[class] * self.error_rate(rater, class, label))
            .sum()
    }

    /// Exchanges the names of two classes.
    pub(super) fn exchange(&mut self, a: usize, b: usize) {
        let q = self.prevalence.len();
        self.prevalence.swap(a, b);
        for item in self.posterior.chunks_exact_mut(q) {
            item.swap(a, b);
        }
        for rater in self.error_rates.chunks_exact_mut(q * q) {
            for label in 0..q {
                rater.swap(a * q + label, b * q + label);
            }
        }
    }
}

/// One EM from one start; the objective is the log likelihood plus the prior's part.
fn fit_from(table: &Table, config: Config, start: &[f64]) -> Result<(LatentClass, f64), Undefined> {
    let q = table.n_categories();
    if q < 2 {
        return Err(Undefined::OneCategoryScale);
    }
    if table.n_judgements() == 0 {
        return Err(Undefined::NoJudgements);
    }
    let mut em = Em::new(table, config, start);
    let mut before = f64::NEG_INFINITY;
    let (mut iterations, mut converged) = (0, false);
    while iterations < config.most_iterations && !converged {
        em.maximise();
        em.expect();
        iterations += 1;
        let objective = em.log_likelihood + em.prior_part();
        converged = (objective - before).abs() <= config.tolerance * objective.abs();
        before = objective;
    }
    let mut judgements = vec![0.0; table.n_raters()];
    for cell in table.items().flatten() {
        judgements[cell.rater as usize] += 1.0;
    }
    let fit = LatentClass {
        prevalence: em.prevalence,
        posterior: em.posterior,
        error_rates: em.rates,
        log_likelihood: em.log_likelihood,
        iterations,
        converged,
        swapped: false,
        starts: (1, 1),
        judgements,
    };
    Ok((fit, before))
}

struct Em<'a> {
    table: &'a Table,
    q: usize,
    prior: f64,
    prevalence: Vec<f64>,
    posterior: Vec<f64>,
    rates: Vec<f64>,
    /// Logarithms of the rates, label before class: the labels of one judgement stand together.
    log_rates: Vec<f64>,
    log_likelihood: f64,
}

impl<'a> Em<'a> {
    fn new(table: &'a Table, config: Config, start: &[f64]) -> Self {
        let q = table.n_categories();
        Self {
            table,
            q,
            prior: config.prior,
            prevalence: vec![0.0; q],
            posterior: start.to_vec(),
            rates: vec![0.0; table.n_raters() * q * q],
            log_rates: vec![0.0; table.n_raters() * q * q],
            log_likelihood: f64::NEG_INFINITY,
        }
    }

    fn maximise(&mut self) {
        let q = self.q;
        self.prevalence.fill(0.0);
        self.rates.fill(self.prior);
        let mut items = 0.0;
        for (cells, classes) in self.table.items().zip(self.posterior.chunks_exact(q)) {
            if cells.is_empty() {
                continue;
            }
            items += 1.0;
            for (share, class) in self.prevalence.iter_mut().zip(classes) {
                *share += class;
            }
            for cell in cells {
                let base = cell.rater as usize * q * q + cell.category as usize;
                for (class, probability) in classes.iter().enumerate() {
                    self.rates[base + class * q] += probability;
                }
            }
        }
        for share in &mut self.prevalence {
            *share /= items;
        }
        for row in self.rates.chunks_exact_mut(q) {
            let sum: f64 = row.iter().sum();
            for rate in row {
                *rate = if sum > 0.0 {
                    *rate / sum
                } else {
                    1.0 / q as f64
                };
            }
        }
        let raters = self.rates.chunks_exact(q * q);
        for (rates, logs) in raters.zip(self.log_rates.chunks_exact_mut(q * q)) {
            for class in 0..q {
                for label in 0..q {
                    logs[label * q + class] = rates[class * q + label].ln();
                }
            }
        }
    }

    fn expect(&mut self) {
        let q = self.q;
        let log_prevalence: Vec<f64> = self.prevalence.iter().map(|share| share.ln()).collect();
        self.log_likelihood = 0.0;
        for (cells, classes) in self.table.items().zip(self.posterior.chunks_exact_mut(q)) {
            if cells.is_empty() {
                classes.copy_from_slice(&self.prevalence);
                continue;
            }
            classes.copy_from_slice(&log_prevalence);
            for cell in cells {
                let base = (cell.rater as usize * q + cell.category as usize) * q;
                for (class, log_rate) in classes.iter_mut().zip(&self.log_rates[base..base + q]) {
                    *class += log_rate;
                }
            }
            let most = classes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let mut sum = 0.0;
            for class in classes.iter_mut() {
                *class = (*class - most).exp();
                sum += *class;
            }
            for class in classes.iter_mut() {
                *class /= sum;
            }
            self.log_likelihood += most + sum.ln();
        }
    }

    /// λ Σ ln π: what the prior adds to the objective that EM raises.
    fn prior_part(&self) -> f64 {
        if self.prior <= 0.0 {
            return 0.0;
        }
        self.prior * self.log_rates.iter().sum::<f64>()
    }
}

/// For each item the share of its labels, by the raters that are chosen; items without one get equal shares.
fn label_shares(table: &Table, chosen: impl Fn(u32) -> bool) -> Vec<f64> {
    let q = table.n_categories();
    let mut shares = vec![0.0; table.n_items() * q];
    for (cells, shares) in table.items().zip(shares.chunks_exact_mut(q)) {
        let mut n = 0.0;
        for cell in cells.iter().filter(|cell| chosen(cell.rater)) {
            shares[cell.category as usize] += 1.0;
            n += 1.0;
        }
        for share in shares {
            *share = if n > 0.0 { *share / n } else { 1.0 / q as f64 };
        }
    }
    shares
}

fn further_starts(table: &Table) -> [Vec<f64>; 3] {
    let q = table.n_categories();
    let mut majority = label_shares(table, |_| true);
    for shares in majority.chunks_exact_mut(q) {
        let most = shares.iter().copied().fold(0.0, f64::max);
        let ties = shares.iter().filter(|share| **share >= most).count() as f64;
        for share in shares {
            *share = if *share >= most { 1.0 / ties } else { 0.0 };
        }
    }
    [
        majority,
        label_shares(table, |rater| rater % 2 == 0),
        label_shares(table, |rater| rater % 2 == 1),
    ]
}
