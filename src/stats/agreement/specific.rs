//! Specific agreement: positive and negative agreement, for any number of categories.

use super::super::tally::Weighted;

/// Specific agreement of each category: where one rater says it, how often does another say it too?
///
/// ```text
/// s_c = Σ_i r_ic(r_ic − 1) / Σ_i r_ic(r_i − 1)
/// ```
///
/// For two categories these are positive and negative agreement, 2a/(2a+b+c) and 2d/(2d+b+c). `None` for a category that
/// nobody used on an item with two judgements. From 0 to 1, no unit.
///
/// Cicchetti & Feinstein (1990), J. Clin. Epidemiol. 43, 551–558, in the form for many raters of de Vet et al. (2017),
/// BMC Med. Res. Methodol. 17.
pub fn specific_agreement(tally: Weighted<'_>) -> Vec<Option<f64>> {
    let mut equal = vec![0.0; tally.n_categories];
    let mut possible = vec![0.0; tally.n_categories];
    for (weight, pattern) in tally.pairable() {
        for &(category, count) in &pattern.counts {
            if let (Some(equal), Some(possible)) = (
                equal.get_mut(category as usize),
                possible.get_mut(category as usize),
            ) {
                *equal += weight * count * (count - 1.0);
                *possible += weight * count * (pattern.judgements - 1.0);
            }
        }
    }
    equal
        .into_iter()
        .zip(possible)
        .map(|(equal, possible)| (possible > 0.0).then(|| equal / possible))
        .collect()
}
