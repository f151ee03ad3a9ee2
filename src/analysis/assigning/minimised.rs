//! Minimised draws for very small cohorts: all ways are ranked by balance, and one of the best is drawn.

use crate::stats::change::Part;
use crate::study::Enrolled;
use crate::study::Invalid;
use crate::study::Trait;

/// Above this many ways they are not ranked: the rule is for very small cohorts.
const MOST_WAYS: u64 = 200_000;

/// The draws that balance best, at least `keep` of them, with all that balance as well as the last of these.
///
/// Imbalance is the sum over traits of a range over cohorts: of the mean age in standard deviations of all ages, and of
/// how many children there are of each severity. Ranges over margins after Pocock & Simon (1975), Biometrics 31,
/// 103–115; drawing evenly among the best balanced ways after Moulton (2004), Clin. Trials 1, 297–305. Who stays
/// possible depends on no chance, so the exact test counts over the very same list.
///
/// # Errors
/// [`Invalid`] for more children than can be ranked.
pub(super) fn best_balanced(
    children: &[Enrolled],
    counts: Vec<usize>,
    by: &[Trait],
    keep: usize,
) -> Result<Vec<Vec<usize>>, Invalid> {
    let cohorts = counts.len();
    let all = Part::deal(counts);
    let ways = all.count().unwrap_or(u64::MAX);
    if ways > MOST_WAYS {
        return Err(Invalid::new(
            format!(
                "{} children are too many to draw with how = \"minimised\"",
                children.len()
            ),
            "it is for very small cohorts; draw with how = \"stratified\"",
        ));
    }
    let mut ranked: Vec<(f64, Vec<usize>)> = (0..ways)
        .filter_map(|number| all.nth(number))
        .map(|way| (imbalance(children, &way, cohorts, by), way))
        .collect();
    ranked.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let last = keep.clamp(2, ranked.len().max(2)) - 1;
    let worst = ranked
        .get(last)
        .map_or(f64::INFINITY, |(imbalance, _)| *imbalance);
    // The guard keeps ways together whose means differ by rounding alone.
    Ok(ranked
        .into_iter()
        .take_while(|(imbalance, _)| *imbalance <= worst + 1e-9)
        .map(|(_, way)| way)
        .collect())
}

fn imbalance(children: &[Enrolled], way: &[usize], cohorts: usize, by: &[Trait]) -> f64 {
    let of = |cohort: usize| {
        let dealt = children.iter().zip(way);
        dealt
            .filter(move |(_, label)| **label == cohort)
            .map(|(child, _)| child)
    };
    let mut sum = 0.0;
    if by.contains(&Trait::Age) {
        let ages: Vec<f64> = children.iter().filter_map(age).collect();
        let spread = deviation(&ages);
        let means =
            (0..cohorts).map(|cohort| mean(&of(cohort).filter_map(age).collect::<Vec<_>>()));
        if spread > 0.0 {
            sum += range(means) / spread;
        }
    }
    if by.contains(&Trait::Severity) {
        let mut labels: Vec<_> = children.iter().map(|child| &child.severity).collect();
        labels.sort();
        labels.dedup();
        for label in labels {
            let counts = (0..cohorts)
                .map(|cohort| of(cohort).filter(|c| c.severity == *label).count() as f64);
            sum += range(counts);
        }
    }
    sum
}

fn age(child: &Enrolled) -> Option<f64> {
    child.age_months.map(f64::from)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn deviation(values: &[f64]) -> f64 {
    let centre = mean(values);
    mean(
        &values
            .iter()
            .map(|v| (v - centre).powi(2))
            .collect::<Vec<_>>(),
    )
    .sqrt()
}

fn range(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    high - low
}
