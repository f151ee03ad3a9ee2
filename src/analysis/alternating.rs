//! Conditions that alternate: sessions as they went, held against the order that was drawn.

use crate::stats::change::Alternation;
use crate::study::Assignment;
use crate::study::Invalid;

/// A case with the score and the condition of each of its sessions, in order of time.
pub(super) type Sessions<'a> = (&'a str, Vec<(f64, &'a str)>);

/// The cases of a test. `seen`: the conditions in the order in which they were met, where the assignment names none.
///
/// # Errors
/// [`Invalid`] where there are not two conditions, or the sessions did not go as drawn.
pub(super) fn cases(
    assignment: &Assignment,
    sessions: Vec<Sessions<'_>>,
    seen: &[String],
) -> Result<Vec<Alternation>, Invalid> {
    let Assignment::Alternating {
        longest_run,
        pairs,
        conditions,
        cases,
    } = assignment
    else {
        return Ok(Vec::new());
    };
    let names = if conditions.is_empty() {
        seen
    } else {
        conditions
    };
    let [_, second] = names else {
        return Err(Invalid::new(
            format!("the column `condition` holds {} conditions", names.len()),
            "two are compared: name them in `condition`",
        ));
    };
    if *pairs && longest_run.is_some() {
        return Err(Invalid::new(
            "`longest_run` says nothing where sessions are paired",
            "leave out one of `longest_run` and `pairs`",
        ));
    }
    let wanted = sessions
        .into_iter()
        .filter(|(case, went)| !went.is_empty() && (cases.is_empty() || cases.contains_key(*case)));
    wanted
        .map(|(case, went)| {
            let order: Vec<&str> = went.iter().map(|(_, condition)| *condition).collect();
            let drawn = cases.get(case);
            if let Some(drawn) = drawn.filter(|drawn| order.len() < drawn.len()) {
                return Err(Invalid::new(
                    format!(
                        "{} of the {} sessions that were drawn for `{case}` are judged",
                        order.len(),
                        drawn.len()
                    ),
                    "the test is of all of them: have the others judged first",
                ));
            }
            if let Some(drawn) = drawn.filter(|drawn| **drawn != order) {
                return Err(Invalid::new(
                    format!(
                        "the sessions of `{case}` went {}, and {} was drawn",
                        order.join(", "),
                        drawn.join(", ")
                    ),
                    "what did not go as drawn is no randomised comparison: leave out the assignment",
                ));
            }
            Ok(Alternation {
                scores: went.iter().map(|(score, _)| *score).collect(),
                second: order.iter().map(|condition| condition == second).collect(),
                longest_run: *longest_run,
                in_pairs: *pairs,
            })
        })
        .collect()
}
