//! Cohorts side by side, and against each other where the children were assigned at random.

use std::collections::BTreeMap;

use rand::SeedableRng;
use rand_chacha::ChaCha12Rng;

use super::super::Reasons;
use super::ChangeFinding;
use super::CohortFinding;
use super::CohortTestFinding;
use super::Joined;
use super::OutcomeOptions;
use super::Words;
use crate::stats::change::TwoGroups;
use crate::stats::change::hedges_g;
use crate::stats::change::two_group_test;
use crate::stats::special::StudentT;
use crate::study::Assignment;
use crate::study::Invalid;
use crate::study::Use;

pub(super) struct Cohorts {
    pub(super) cohorts: Vec<CohortFinding>,
    pub(super) test: Option<CohortTestFinding>,
}

/// # Errors
/// [`Invalid`] where a child stands in two cohorts, or a block names a child that has no change.
pub(super) fn cohorts(
    joined: &Joined<'_>,
    changes: &[ChangeFinding],
    options: &OutcomeOptions,
    reasons: &mut Reasons,
) -> Result<Cohorts, Invalid> {
    let members = members(joined, changes)?;
    let labels = joined.tokens.cohorts.names();
    let of_cohort = |number: usize| -> Vec<f64> {
        let own = members.iter().filter(|(_, member)| member.cohort == number);
        own.map(|(_, member)| member.change).collect()
    };
    let cohorts: Vec<CohortFinding> = labels
        .iter()
        .enumerate()
        .map(|(number, label)| described(label, &of_cohort(number), options.confidence))
        .collect();
    let test = match &options.assignment {
        None => {
            reasons.say(
                "cohort_test",
                "without the assignment that was drawn nothing is tested",
            );
            None
        }
        Some(Assignment::Cohorts { blocks }) if labels.len() == 2 => {
            tested(&members, blocks, options, reasons)?
        }
        Some(Assignment::Cohorts { .. }) => {
            reasons.say(
                "cohort_test",
                format!("{} cohorts, where a test needs two", labels.len()),
            );
            None
        }
        Some(_) => {
            reasons.say(
                "cohort_test",
                "the assignment that was drawn is not one of children to cohorts",
            );
            None
        }
    };
    Ok(Cohorts { cohorts, test })
}

struct Member {
    cohort: usize,
    change: f64,
}

/// Each child of a cohort with its change over all words.
fn members(
    joined: &Joined<'_>,
    changes: &[ChangeFinding],
) -> Result<BTreeMap<String, Member>, Invalid> {
    let mut cohort_of: BTreeMap<&str, u32> = BTreeMap::new();
    for row in joined
        .tokens
        .rows
        .iter()
        .filter(|row| row.use_ != Use::Peer)
    {
        let Some(cohort) = row.cohort else { continue };
        let child = joined.tokens.children.name(row.child);
        if *cohort_of.entry(child).or_insert(cohort) != cohort {
            return Err(Invalid::new(
                format!("the child `{child}` stands in two cohorts"),
                "give all tokens of a child the same cohort",
            ));
        }
    }
    let all_words = changes.iter().filter(|change| change.words == Words::All);
    Ok(all_words
        .filter_map(|change| {
            let cohort = *cohort_of.get(change.child.as_str())? as usize;
            Some((
                change.child.clone(),
                Member {
                    cohort,
                    change: change.difference?,
                },
            ))
        })
        .collect())
}

fn described(label: &str, changes: &[f64], confidence: f64) -> CohortFinding {
    let mut reasons = Reasons::new();
    let n = changes.len() as f64;
    if changes.is_empty() {
        reasons.say("mean_change", "no child of the cohort has a change");
    }
    if changes.len() < 2 {
        reasons.say(
            "ci",
            "one child says nothing of the spread between children",
        );
    }
    let mean_change = (!changes.is_empty()).then(|| changes.iter().sum::<f64>() / n);
    let ci = mean_change.filter(|_| changes.len() > 1).and_then(|mean| {
        let half = t_quantile(n - 1.0, confidence)? * (variance(changes) / n).sqrt();
        // No change is larger than all of the scale.
        Some([(mean - half).max(-1.0), (mean + half).min(1.0)])
    });
    CohortFinding {
        cohort: label.to_owned(),
        children: changes.len(),
        mean_change,
        ci,
        reasons,
    }
}

fn tested(
    members: &BTreeMap<String, Member>,
    blocks: &[Vec<String>],
    options: &OutcomeOptions,
    reasons: &mut Reasons,
) -> Result<Option<CohortTestFinding>, Invalid> {
    let groups = TwoGroups {
        values: members.values().map(|member| member.change).collect(),
        second: members.values().map(|member| member.cohort == 1).collect(),
        block: members
            .keys()
            .map(|child| block_of(child, blocks))
            .collect::<Result<_, Invalid>>()?,
    };
    let mut rng = ChaCha12Rng::seed_from_u64(options.seed);
    rng.set_stream(u64::MAX);
    let Some(test) = reasons.keep("cohort_test", two_group_test(&groups, &mut rng)) else {
        return Ok(None);
    };
    let side = |second: bool| -> Vec<f64> {
        let own = members
            .values()
            .filter(|member| (member.cohort == 1) == second);
        own.map(|member| member.change).collect()
    };
    let (first, second) = (side(false), side(true));
    let ci = welch(&first, &second, options.confidence);
    if ci.is_none() {
        reasons.say(
            "cohort_test.ci",
            "a cohort has one child only, or no child differs from another",
        );
    }
    Ok(Some(CohortTestFinding {
        difference: test.observed,
        ci,
        p: test.p_two_sided,
        smallest_p: test.smallest_p,
        arrangements: test.arrangements,
        exact: test.exact,
        hedges_g: reasons
            .keep("cohort_test.hedges_g", hedges_g(&first, &second))
            .map(|g| g.estimate),
    }))
}

/// The block of a child; all in one where there are none.
fn block_of(child: &str, blocks: &[Vec<String>]) -> Result<usize, Invalid> {
    if blocks.is_empty() {
        return Ok(0);
    }
    blocks
        .iter()
        .position(|block| block.iter().any(|name| name == child))
        .ok_or_else(|| {
            Invalid::new(
                format!("the assignment has no block with the child `{child}`"),
                "name every child of the cohorts in one block",
            )
        })
}

/// Welch's t interval of the difference of two means; nothing below two values a side or where none varies.
pub(in crate::analysis) fn welch(
    first: &[f64],
    second: &[f64],
    confidence: f64,
) -> Option<[f64; 2]> {
    if first.len() < 2 || second.len() < 2 {
        return None;
    }
    let (m, n) = (first.len() as f64, second.len() as f64);
    let (a, b) = (variance(first) / m, variance(second) / n);
    if a + b <= 1e-18 {
        return None;
    }
    let df = (a + b).powi(2) / (a * a / (m - 1.0) + b * b / (n - 1.0));
    let difference = second.iter().sum::<f64>() / n - first.iter().sum::<f64>() / m;
    let half = t_quantile(df, confidence)? * (a + b).sqrt();
    Some([difference - half, difference + half])
}

fn t_quantile(df: f64, confidence: f64) -> Option<f64> {
    StudentT::new(df)
        .ok()
        .map(|t| t.quantile(0.5 + confidence / 2.0))
}

fn variance(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)
}
