//! A listener against herself.

use super::super::Undefined;
use super::super::agreement::PairTable;
use super::super::agreement::PairWeights;
use super::super::agreement::cohen_kappa;
use super::super::proportion::wilson;

/// How often a listener judges a token again as she did first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeats {
    /// Tokens heard again.
    pub pairs: u32,
    /// Of them judged alike.
    pub same: u32,
    /// The share judged alike.
    pub agreement: f64,
    /// Its Wilson interval.
    pub interval: [f64; 2],
    /// Cohen's kappa of first and second judgement.
    pub kappa: Result<f64, Undefined>,
}

/// Self-agreement: percent with its Wilson interval, and Cohen's kappa of first against second judgement.
///
/// `pairs`: first and second judgement of each token heard again, positive or not. Percent from 0 to 1; kappa at most 1, 0 is
/// chance. Twenty repeats at 90% leave an interval from 70 to 97%: look at the interval.
///
/// # Errors
/// [`Undefined::NoRepeats`] without a pair.
pub fn repeats(pairs: &[(bool, bool)], confidence: f64) -> Result<Repeats, Undefined> {
    if pairs.is_empty() {
        return Err(Undefined::NoRepeats);
    }
    let count = |first: bool, second: bool| {
        let matching = pairs.iter().filter(|pair| **pair == (first, second));
        u32::try_from(matching.count()).unwrap_or(u32::MAX)
    };
    let counts = [
        count(false, false),
        count(false, true),
        count(true, false),
        count(true, true),
    ];
    let [neither, _, _, both] = counts;
    let (n, same): (u32, u32) = (counts.iter().sum(), neither + both);
    let kappa = PairTable::new(2, counts.map(f64::from).to_vec())
        .ok_or(Undefined::NoRepeats)
        .and_then(|pair| cohen_kappa(&pair, PairWeights::Nominal));
    Ok(Repeats {
        pairs: n,
        same,
        agreement: f64::from(same) / f64::from(n),
        interval: wilson(f64::from(same), f64::from(n), confidence),
        kappa: kappa.map(|kappa| kappa.estimate),
    })
}
