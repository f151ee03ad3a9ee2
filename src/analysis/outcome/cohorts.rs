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
use crate::stats::change::Draws;
use crate::stats::change::Part;
use crate::stats::change::PermutationTest;
use crate::stats::change::TwoGroups;
use crate::stats::change::drawn_test;
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
/// [`Invalid`] where a child stands in two cohorts.
pub(super) fn cohorts(
    joined: &Joined<'_>,
    changes: &[ChangeFinding],
    options: &OutcomeOptions,
    reasons: &mut Reasons,
) -> Result<Cohorts, Invalid> {
    let members = members(joined, changes, options.words.into())?;
    let labels = joined.tokens.cohorts.names();
    Ok(side_by_side(&members, labels, options, reasons))
}

/// Children by code, each in one of the cohorts, described and, where that was drawn, tested.
pub(super) fn side_by_side(
    members: &BTreeMap<String, Member>,
    labels: &[String],
    options: &OutcomeOptions,
    reasons: &mut Reasons,
) -> Cohorts {
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
        None => Err("without the assignment that was drawn nothing is tested".to_owned()),
        Some(Assignment::Cohorts {
            blocks,
            cohorts,
            children,
            possible,
        }) => match labels {
            [_, second] => as_drawn(members, labels, children).and_then(|()| {
                let drawn = Drawn {
                    blocks,
                    children,
                    possible,
                    // Which number the second cohort has in the list of the possible draws.
                    second: cohorts.iter().position(|name| name == second).unwrap_or(1),
                };
                tested(members, &drawn, options, reasons)
            }),
            _ => Err(format!("{} cohorts, where a test needs two", labels.len())),
        },
        Some(_) => {
            Err("the assignment that was drawn is not one of children to cohorts".to_owned())
        }
    };
    let test = match test {
        Ok(test) => Some(test),
        Err(why) => {
            reasons.say("cohort_test", why);
            None
        }
    };
    Cohorts { cohorts, test }
}

/// A child with its cohort, as a place among the labels, and its change.
pub(super) struct Member {
    pub(super) cohort: usize,
    pub(super) change: f64,
}

/// Each child of a cohort with its change over the words of the comparison.
fn members(
    joined: &Joined<'_>,
    changes: &[ChangeFinding],
    words: Words,
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
    let all_words = changes.iter().filter(|change| change.words == words);
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
    let spread = if changes.len() > 1 {
        variance(changes)
    } else {
        0.0
    };
    if changes.len() > 1 && spread <= NO_SPREAD {
        reasons.say(
            "ci",
            "the children's changes are all alike, so that nothing is known of the spread between children",
        );
    }
    let ci = mean_change.filter(|_| spread > NO_SPREAD).and_then(|mean| {
        let half = t_quantile(n - 1.0, confidence)? * (spread / n).sqrt();
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

/// What was drawn, and among what.
struct Drawn<'a> {
    blocks: &'a [Vec<String>],
    children: &'a BTreeMap<String, String>,
    possible: &'a [String],
    second: usize,
}

/// Whether the children were treated as drawn; a sentence where not.
fn as_drawn(
    members: &BTreeMap<String, Member>,
    labels: &[String],
    drawn: &BTreeMap<String, String>,
) -> Result<(), String> {
    if drawn.is_empty() {
        return Ok(());
    }
    for (child, member) in members {
        let went = labels.get(member.cohort).map_or("", String::as_str);
        match drawn.get(child) {
            None => return Err(format!("`{child}` was not among the children of the draw")),
            Some(drawn) if drawn != went => {
                return Err(format!(
                    "`{child}` was drawn for `{drawn}` and treated in `{went}`: what did not go as drawn is no randomised comparison"
                ));
            }
            Some(_) => {}
        }
    }
    Ok(())
}

fn tested(
    members: &BTreeMap<String, Member>,
    drawn: &Drawn<'_>,
    options: &OutcomeOptions,
    reasons: &mut Reasons,
) -> Result<CohortTestFinding, String> {
    let mut rng = ChaCha12Rng::seed_from_u64(options.seed);
    rng.set_stream(u64::MAX);
    let test = if drawn.possible.is_empty() {
        let groups = TwoGroups {
            values: members.values().map(|member| member.change).collect(),
            second: members.values().map(|member| member.cohort == 1).collect(),
            block: members
                .keys()
                .map(|child| block_of(child, drawn.blocks))
                .collect::<Result<_, Invalid>>()
                .map_err(|refusal| refusal.what)?,
        };
        two_group_test(&groups, &mut rng).map_err(|error| error.to_string())?
    } else {
        listed_test(members, drawn, &mut rng)?
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
    Ok(CohortTestFinding {
        difference: test.observed,
        ci,
        p: test.p_two_sided,
        smallest_p: test.smallest_p,
        arrangements: test.arrangements,
        exact: test.exact,
        hedges_g: reasons
            .keep("cohort_test.hedges_g", hedges_g(&first, &second))
            .map(|g| g.estimate),
    })
}

/// The test over a list of draws that some rule left over; children without a change are left out of each.
fn listed_test(
    members: &BTreeMap<String, Member>,
    drawn: &Drawn<'_>,
    rng: &mut ChaCha12Rng,
) -> Result<PermutationTest, String> {
    let places: Vec<Option<f64>> = drawn
        .children
        .keys()
        .map(|child| members.get(child).map(|member| member.change))
        .collect();
    let gain = |_: usize, way: &[usize]| {
        let mean = |second: bool| {
            let own = places
                .iter()
                .zip(way)
                .filter(|(_, label)| (**label == 1) == second);
            let own: Vec<f64> = own.filter_map(|(change, _)| *change).collect();
            own.iter().sum::<f64>() / own.len() as f64
        };
        mean(true) - mean(false)
    };
    let labels = |text: &String| -> Vec<usize> {
        let digits = text.chars().map(|sign| sign.to_digit(10));
        digits
            .map(|digit| usize::from(digit == u32::try_from(drawn.second).ok()))
            .collect()
    };
    let list: Vec<Vec<usize>> = drawn
        .possible
        .iter()
        .map(labels)
        .filter(|way| gain(0, way).is_finite())
        .collect();
    // A child without a change may stand on either side: any draw that agrees on the others is the one that was drawn.
    let sides: Vec<Option<usize>> = drawn
        .children
        .keys()
        .map(|child| members.get(child).map(|member| member.cohort))
        .collect();
    let agrees = |way: &&Vec<usize>| {
        let mut both = sides.iter().zip(way.iter());
        both.all(|(side, label)| side.is_none_or(|side| side == *label))
    };
    let went = list.iter().find(agrees).cloned();
    let went = went.ok_or("the cohorts are none of the draws that were possible")?;
    let draws = Draws::new(vec![Part::Listed(list)]).map_err(|error| error.to_string())?;
    let test = drawn_test(&draws, &[went], gain, rng).map_err(|error| error.to_string())?;
    Ok(PermutationTest {
        observed: test.observed,
        p_greater: test.p,
        p_less: f64::NAN,
        p_two_sided: test.p_two_sided,
        smallest_p: test.smallest_p_two_sided,
        arrangements: test.assignments,
        exact: test.exact,
    })
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
    if a + b <= NO_SPREAD {
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

/// A variance from there down is none; what is left of it is rounding.
const NO_SPREAD: f64 = 1e-18;

fn variance(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)
}
