//! The paragraphs of a manuscript as plain text: to be copied, never typed.

use std::fmt::Write;

use super::methods;
use super::results;
use super::words;
use crate::analysis::RoundFindings;

/// Methods and results of a round in paragraphs, the same as on its page.
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
    ] {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{head}\n\n{}\n", paragraphs.join("\n\n"));
    }
    text
}
