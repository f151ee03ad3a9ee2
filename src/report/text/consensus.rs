//! A consensus as a readable table.

use std::fmt::Write;

use super::columns::NO_JUDGEMENTS;
use super::columns::columns;
use super::columns::header;
use super::columns::interval;
use super::columns::number;
use super::columns::percent;
use crate::analysis::Consensus;

/// A consensus as a readable table: every item, then every rater.
pub fn consensus(found: &Consensus) -> String {
    if found.items.is_empty() {
        return NO_JUDGEMENTS.to_owned();
    }
    let mut items = vec![header([
        "Item",
        "judgements",
        &found.positive,
        "interval",
        "majority",
        "posterior",
        "",
    ])];
    for item in &found.items {
        items.push(vec![
            item.item.clone(),
            item.judgements.to_string(),
            percent(Some(item.proportion)),
            interval(Some(item.ci)),
            item.majority.clone(),
            number(item.posterior),
            if item.contested { "contested" } else { "" }.to_owned(),
        ]);
    }
    let mut raters = vec![header([
        "Rater",
        "judgements",
        "sensitivity",
        "specificity",
        "weight",
    ])];
    for rater in &found.raters {
        raters.push(vec![
            rater.rater.clone(),
            rater.judgements.to_string(),
            number(rater.sensitivity),
            number(rater.specificity),
            number(rater.weight),
        ]);
    }
    let mut text = format!("{}\n{}", columns(&items), columns(&raters));
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        "\nLatent classes: {} of items `{}`, log likelihood {}, {} iterations, {}.",
        percent(found.prevalence),
        found.positive,
        number(found.log_likelihood),
        found
            .iterations
            .map_or_else(|| "no".to_owned(), |n| n.to_string()),
        if found.converged {
            "converged"
        } else {
            "not converged"
        },
    );
    if found.items.iter().any(|item| item.contested) {
        text.push_str("Contested: the interval of the item's share holds one half.\n");
    }
    for caution in &found.cautions {
        let _ = writeln!(text, "{caution}");
    }
    for (field, reason) in found.reasons.iter() {
        let _ = writeln!(text, "Not computed: {field}: {reason}");
    }
    text
}
