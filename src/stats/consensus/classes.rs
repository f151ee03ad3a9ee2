//! Latent classes have no names of their own: they are given those of the labels that they mostly receive.

use super::dawid_skene::LatentClass;

/// Exchanges classes until no exchange of two raises the number of judgements that fall on a class's own label.
///
/// The likelihood is the same whatever the classes are called, so a fit can come out with the two classes swapped; every listener
/// would then look worse than guessing. Returns whether anything was exchanged.
pub fn guard_against_swapped_classes(fit: &mut LatentClass) -> bool {
    let q = fit.prevalence.len();
    let mut swapped = false;
    loop {
        let better = (0..q)
            .flat_map(|a| (a + 1..q).map(move |b| (a, b)))
            .find(|&(a, b)| {
                let own = fit.expected(a, a) + fit.expected(b, b);
                let other = fit.expected(a, b) + fit.expected(b, a);
                other > own * (1.0 + 1e-12)
            });
        let Some((a, b)) = better else {
            return swapped;
        };
        fit.exchange(a, b);
        swapped = true;
    }
}
