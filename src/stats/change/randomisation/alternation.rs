//! The condition of each session was drawn.

use rand::Rng;

use super::RandomisationTest;
use super::draws::Draws;
use super::draws::Part;
use super::parts::drawn_test;
use crate::stats::change::Better;
use crate::stats::change::ChangeError;

/// One case whose sessions were given one of two conditions each, at random.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternation {
    /// The scores in order of time.
    pub scores: Vec<f64>,
    /// Whether the session had the second condition.
    pub second: Vec<bool>,
    /// The longest run of one condition that was possible; nothing: any. Says nothing where sessions were paired.
    pub longest_run: Option<usize>,
    /// Whether sessions were paired and the order drawn inside each pair.
    pub in_pairs: bool,
}

/// A randomisation test of alternating conditions; statistic: mean of the second less mean of the first, averaged over
/// the cases.
///
/// Without pairs, every order with the same number of sessions under each condition was possible, up to the longest run.
/// Cases count together: the assignments of all are combined.
///
/// # Errors
/// [`ChangeError::NotPossible`] where a drawn order breaks the rule; [`ChangeError::TooFew`] without cases, or where a
/// case lacks a condition.
pub fn alternation_test(
    cases: &[Alternation],
    better: Better,
    rng: &mut impl Rng,
) -> Result<RandomisationTest, ChangeError> {
    let lacks = |case: &Alternation| !case.second.contains(&true) || !case.second.contains(&false);
    if cases.is_empty() || cases.iter().any(lacks) {
        return Err(ChangeError::TooFew {
            found: 0,
            needed: 1,
        });
    }
    let (mut parts, mut drawn, mut stretches) = (Vec::new(), Vec::new(), Vec::new());
    for case in cases {
        for stretch in case.stretches() {
            parts.push(stretch.part.clone());
            drawn.push(stretch.second.clone());
            stretches.push(stretch);
        }
    }
    let draws = Draws::new(parts).map_err(|_| ChangeError::NotPossible)?;
    let share = better.sign() / cases.len() as f64;
    let value = |part: usize, way: &[usize]| {
        stretches
            .get(part)
            .map_or(0.0, |stretch| share * stretch.gain(way))
    };
    drawn_test(&draws, &drawn, value, rng)
}

/// Sessions whose order was drawn together: a case, or a pair of it.
struct Stretch<'a> {
    part: Part,
    second: Vec<usize>,
    scores: &'a [f64],
    /// What a session counts under the first and the second condition.
    weights: [f64; 2],
}

impl Stretch<'_> {
    fn gain(&self, way: &[usize]) -> f64 {
        let [first, second] = self.weights;
        let sessions = self.scores.iter().zip(way);
        sessions
            .map(|(score, label)| {
                if *label == 1 {
                    second * score
                } else {
                    -first * score
                }
            })
            .sum()
    }
}

impl Alternation {
    fn stretches(&self) -> Vec<Stretch<'_>> {
        let seconds = self.second.iter().filter(|second| **second).count();
        let firsts = self.second.len() - seconds;
        let labels: Vec<usize> = self
            .second
            .iter()
            .map(|second| usize::from(*second))
            .collect();
        let weights = [1.0 / firsts as f64, 1.0 / seconds as f64];
        let length = if self.in_pairs {
            2
        } else {
            labels.len().max(1)
        };
        let part = if self.in_pairs {
            Part::deal(vec![1, 1])
        } else {
            Part::Deal {
                counts: vec![firsts, seconds],
                longest_run: self.longest_run,
            }
        };
        self.scores
            .chunks(length)
            .zip(labels.chunks(length))
            .map(|(scores, second)| Stretch {
                part: part.clone(),
                second: second.to_vec(),
                scores,
                weights,
            })
            .collect()
    }
}
