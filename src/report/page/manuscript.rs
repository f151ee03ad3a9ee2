//! The paragraphs of a manuscript as plain text: to be copied, never typed.

use std::fmt::Write;

use super::hanging;
use super::methods;
use super::results;
use super::words;
use crate::analysis::RoundFindings;

/// Methods, results and limits of a round in paragraphs, the same as on its page.
pub fn manuscript(found: &RoundFindings) -> String {
    let mut text = String::new();
    if found.round.simulated {
        text.push_str(
            "The panel of this round was SIMULATED: these figures are a demonstration.\n\n",
        );
    }
    for (head, paragraphs) in [
        ("Methods", methods::methods(found)),
        ("Listeners", vec![words::flow(found)]),
        ("Results", results::results(found)),
        ("Deviations and limits", deviations_and_limits(found)),
    ] {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{head}\n\n{}\n", paragraphs.join("\n\n"));
    }
    text
}

/// What was done otherwise than planned, which verdicts hang on a reading, and what a reader must keep in mind.
fn deviations_and_limits(found: &RoundFindings) -> Vec<String> {
    let deviations = found.round.deviations.iter();
    let mut said: Vec<String> = deviations
        .map(|deviation| format!("Otherwise than planned: {deviation}"))
        .collect();
    if said.is_empty() {
        said.push(
            "Nothing was done otherwise than planned, as far as the log up to the close tells."
                .to_owned(),
        );
    }
    let hanging = hanging::hanging(found).into_iter();
    said.extend(
        hanging.map(|one| format!("A verdict hangs on how the judgements are read. {one}")),
    );
    said.extend(hanging::steady(found));
    said.extend(found.warnings.iter().map(|warning| warning.found.clone()));
    said
}
