//! Intraclass correlations: the six forms of Shrout and Fleiss.

use super::super::Undefined;
use super::super::special::FisherF;
use super::super::table::Table;

/// The mean squares of a complete table of numbers, from which all six forms follow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IccTable {
    /// Items.
    pub n: f64,
    /// Raters.
    pub k: f64,
    /// Between items.
    pub between: f64,
    /// Between raters.
    pub raters: f64,
    /// Within items.
    pub within: f64,
    /// Residual.
    pub residual: f64,
}

/// Which of the six: who the raters are, and whether one rater's number or the mean of all is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IccForm {
    /// ICC(1,1): each item has other raters.
    OneWaySingle,
    /// ICC(2,1): raters are a sample of raters; absolute agreement.
    RandomSingle,
    /// ICC(3,1): these raters only; consistency.
    FixedSingle,
    /// ICC(1,k).
    OneWayMean,
    /// ICC(2,k).
    RandomMean,
    /// ICC(3,k).
    FixedMean,
}

/// One intraclass correlation with its F test and interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intraclass {
    /// The correlation; negative estimates stay negative.
    pub estimate: f64,
    /// F of items against error.
    pub f: f64,
    /// Its degrees of freedom.
    pub df1: f64,
    /// Its degrees of freedom.
    pub df2: f64,
    /// Upper tail.
    pub p: f64,
    /// The interval by F.
    pub interval: [f64; 2],
}

impl IccForm {
    /// All six, in the order in which they are reported.
    pub const ALL: [Self; 6] = [
        Self::OneWaySingle,
        Self::RandomSingle,
        Self::FixedSingle,
        Self::OneWayMean,
        Self::RandomMean,
        Self::FixedMean,
    ];

    /// Model, type and definition, as a reviewer asks for them.
    pub const fn description(self) -> &'static str {
        match self {
            Self::OneWaySingle => {
                "ICC(1,1): one-way random effects, single rater, absolute agreement"
            }
            Self::RandomSingle => {
                "ICC(2,1): two-way random effects, single rater, absolute agreement"
            }
            Self::FixedSingle => "ICC(3,1): two-way mixed effects, single rater, consistency",
            Self::OneWayMean => {
                "ICC(1,k): one-way random effects, mean of k raters, absolute agreement"
            }
            Self::RandomMean => {
                "ICC(2,k): two-way random effects, mean of k raters, absolute agreement"
            }
            Self::FixedMean => "ICC(3,k): two-way mixed effects, mean of k raters, consistency",
        }
    }
}

impl IccTable {
    /// The mean squares of a complete table whose categories stand for `values`, one a category.
    ///
    /// Sums are taken about the grand mean in two passes, so that large values with little spread keep their digits.
    ///
    /// # Errors
    /// [`Undefined::NoJudgements`], [`Undefined::OneItem`], [`Undefined::OneRater`], [`Undefined::Incomplete`], or
    /// [`Undefined::NoVariance`] where all values are equal.
    pub fn of(table: &Table, values: &[f64]) -> Result<Self, Undefined> {
        if table.n_judgements() == 0 {
            return Err(Undefined::NoJudgements);
        }
        if table.n_items() < 2 {
            return Err(Undefined::OneItem);
        }
        if table.n_raters() < 2 {
            return Err(Undefined::OneRater);
        }
        if !table.is_complete() {
            return Err(Undefined::Incomplete);
        }
        let (n, k) = (table.n_items() as f64, table.n_raters() as f64);
        let value = |category: u32| values.get(category as usize).copied().unwrap_or(f64::NAN);
        let grand = table
            .items()
            .flatten()
            .map(|cell| value(cell.category))
            .sum::<f64>()
            / (n * k);
        let mut of_rater = vec![0.0; table.n_raters()];
        let (mut total, mut of_items) = (0.0, 0.0);
        for cells in table.items() {
            let mut sum = 0.0;
            for (cell, rater) in cells.iter().zip(&mut of_rater) {
                let x = value(cell.category) - grand;
                sum += x;
                total += x * x;
                *rater += x;
            }
            of_items += sum * sum / k;
        }
        let of_raters: f64 = of_rater.iter().map(|sum: &f64| sum * sum / n).sum();
        if total.is_nan() {
            return Err(Undefined::NotNumbers);
        }
        if total <= 0.0 {
            return Err(Undefined::NoVariance);
        }
        Ok(Self {
            n,
            k,
            between: of_items / (n - 1.0),
            raters: of_raters / (k - 1.0),
            within: (total - of_items) / (n * (k - 1.0)),
            residual: (total - of_items - of_raters).max(0.0) / ((n - 1.0) * (k - 1.0)),
        })
    }

    /// One form: how much of the spread of numbers is a spread between items?
    ///
    /// ```text
    /// ICC(1,1) = (B − W)/(B + (k−1)W)                 ICC(1,k) = (B − W)/B
    /// ICC(2,1) = (B − E)/(B + (k−1)E + k(J − E)/n)    ICC(2,k) = (B − E)/(B + (J − E)/n)
    /// ICC(3,1) = (B − E)/(B + (k−1)E)                 ICC(3,k) = (B − E)/B
    /// ```
    ///
    /// `B`, `W`, `J`, `E`: mean squares between items, within items, between raters, residual. At most 1; no unit. F is
    /// B/W for (1,·) and B/E otherwise. Limits for (2,·) use Satterthwaite's degrees of freedom, those of (2,k) are the
    /// Spearman–Brown step of those of (2,1). The interval assumes normal scores: for 0/1 judgements it is a reference value.
    ///
    /// Shrout & Fleiss (1979), Psychol. Bull. 86, 420–428; the same as ICC(1), (A,1), (C,1), (k), (A,k), (C,k) of McGraw & Wong (1996).
    ///
    /// # Errors
    /// [`Undefined::NoVariance`] where the error is 0, so that F is not finite; [`Undefined::PastPole`] where the mean of k raters has no
    /// finite correlation, as when the items' means are all equal.
    pub fn form(&self, form: IccForm, confidence: f64) -> Result<Intraclass, Undefined> {
        let Self {
            n,
            k,
            between,
            raters,
            within,
            residual,
        } = *self;
        let one_way = matches!(form, IccForm::OneWaySingle | IccForm::OneWayMean);
        let error = if one_way { within } else { residual };
        if error <= 0.0 {
            return Err(Undefined::NoVariance);
        }
        let (df1, df2) = (
            n - 1.0,
            if one_way {
                n * (k - 1.0)
            } else {
                (n - 1.0) * (k - 1.0)
            },
        );
        let f = between / error;
        let ratio = |level: f64, d1: f64, d2: f64| {
            FisherF::new(d1, d2).map_or(f64::NAN, |f| f.quantile(level))
        };
        let upper = f64::midpoint(1.0, confidence);
        let (f_low, f_high) = (f / ratio(upper, df1, df2), f * ratio(upper, df2, df1));
        let (estimate, interval) = match form {
            IccForm::OneWaySingle | IccForm::FixedSingle => {
                (single(f, k), [single(f_low, k), single(f_high, k)])
            }
            IccForm::OneWayMean | IccForm::FixedMean => {
                (1.0 - 1.0 / f, [1.0 - 1.0 / f_low, 1.0 - 1.0 / f_high])
            }
            IccForm::RandomSingle | IccForm::RandomMean => {
                let rho = (between - residual)
                    / (between + (k - 1.0) * residual + k * (raters - residual) / n);
                let limits = self.random_limits(|d1, d2| ratio(upper, d1, d2));
                if form == IccForm::RandomSingle {
                    (rho, limits)
                } else {
                    (
                        (between - residual) / (between + (raters - residual) / n),
                        limits.map(|limit| k * limit / (1.0 + (k - 1.0) * limit)),
                    )
                }
            }
        };
        if !estimate.is_finite() {
            return Err(Undefined::PastPole);
        }
        let p = FisherF::new(df1, df2).map_or(f64::NAN, |distribution| distribution.sf(f));
        Ok(Intraclass {
            estimate,
            f,
            df1,
            df2,
            p,
            interval,
        })
    }

    /// All six forms in the order of [`IccForm::ALL`], with each quantile of F computed once: the mean of k raters is the
    /// Spearman–Brown step of one rater, and so are its limits.
    pub fn forms(&self, confidence: f64) -> [Result<Intraclass, Undefined>; 6] {
        let [one_way, random, fixed] = [
            IccForm::OneWaySingle,
            IccForm::RandomSingle,
            IccForm::FixedSingle,
        ]
        .map(|form| self.form(form, confidence));
        let stepped = |single: Result<Intraclass, Undefined>| {
            let single = single?;
            let step = |rho: f64| self.k * rho / (1.0 + (self.k - 1.0) * rho);
            let estimate = step(single.estimate);
            if !estimate.is_finite() || estimate.abs() > 1e12 {
                return Err(Undefined::PastPole);
            }
            Ok(Intraclass {
                estimate,
                interval: single.interval.map(step),
                ..single
            })
        };
        [
            one_way,
            random,
            fixed,
            stepped(one_way),
            stepped(random),
            stepped(fixed),
        ]
    }

    /// Degrees of freedom for the interval of ICC(2,·), by Satterthwaite.
    pub fn satterthwaite_df(&self) -> f64 {
        let Self {
            n,
            k,
            between,
            raters,
            residual,
            ..
        } = *self;
        let rho =
            (between - residual) / (between + (k - 1.0) * residual + k * (raters - residual) / n);
        let f_raters = raters / residual;
        let spread = n * (1.0 + (k - 1.0) * rho) - k * rho;
        let above = (k - 1.0) * (n - 1.0) * (k * rho * f_raters + spread).powi(2);
        above / ((n - 1.0) * (k * rho * f_raters).powi(2) + spread.powi(2))
    }

    fn random_limits(&self, quantile: impl Fn(f64, f64) -> f64) -> [f64; 2] {
        let Self {
            n,
            k,
            between,
            raters,
            residual,
            ..
        } = *self;
        let df = self.satterthwaite_df();
        let rest = k * raters + (k * n - k - n) * residual;
        let low = quantile(n - 1.0, df);
        let high = quantile(df, n - 1.0);
        [
            n * (between - low * residual) / (low * rest + n * between),
            n * (high * between - residual) / (rest + n * high * between),
        ]
    }
}

fn single(f: f64, k: f64) -> f64 {
    (f - 1.0) / (f + k - 1.0)
}
