//! Naive listeners held against experts.

use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::field;
use super::number;
use super::words;
use crate::analysis::ReferenceFinding;

const COLUMNS: [Column; 3] = [
    words(
        "Naive listeners against experts",
        &[field(
            "measure",
            "what is measured",
            "",
            "naive_listeners, experts, shared_words, experts_differ, experts_divided, naive_divided, both_correct, \
             experts_only, naive_only, both_distorted, sensitivity, specificity, percent_agreement, positive_agreement, \
             negative_agreement, kappa, pabak, prevalence_index, bias_index, gwet_ac1, experts_percent, experts_alpha",
        )],
    ),
    number(
        "Value",
        &[field(
            "value",
            "a count, or a share or coefficient",
            "",
            "a number",
        )],
    ),
    number(
        "Interval",
        &[
            field("ci_low", "lower limit over words", "", "-1 to 1"),
            field("ci_high", "upper limit over words", "", "-1 to 1"),
        ],
    ),
];

/// One row a measure; no row where no word was heard by both.
pub fn reference(found: Option<&ReferenceFinding>) -> Table {
    Table {
        name: "reference",
        caption: "Naive listeners against experts, on the words that both heard.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows: found.map(rows).unwrap_or_default(),
        notes: Vec::new(),
    }
}

fn rows(found: &ReferenceFinding) -> Vec<Vec<Cell>> {
    let mut rows = counts(found).to_vec();
    rows.extend(caught(found));
    rows.extend(agreed(found));
    rows
}

fn counts(found: &ReferenceFinding) -> [Vec<Cell>; 10] {
    [
        ("naive_listeners", "naive listeners", found.naive),
        ("experts", "experts", found.experts),
        ("shared_words", "words that both heard", found.shared_words),
        (
            "experts_differ",
            "words on which experts differ",
            found.experts_differ,
        ),
        (
            "experts_divided",
            "of them evenly divided, and in no line below",
            found.experts_divided.len(),
        ),
        (
            "naive_divided",
            "words on which naive listeners are evenly divided, likewise",
            found.naive_divided,
        ),
        (
            "both_correct",
            "correct by both majorities",
            found.both_correct,
        ),
        (
            "experts_only",
            "correct by the experts alone",
            found.experts_only,
        ),
        (
            "naive_only",
            "correct by the naive listeners alone",
            found.naive_only,
        ),
        ("both_distorted", "distorted by both", found.both_distorted),
    ]
    .map(|(exact, shown, n)| line(exact, shown, Cell::count(n), None))
}

fn caught(found: &ReferenceFinding) -> [Vec<Cell>; 2] {
    [
        (
            "sensitivity",
            "sensitivity: of the experts' correct words",
            found.sensitivity,
            found.sensitivity_ci,
        ),
        (
            "specificity",
            "specificity: of the experts' distorted words",
            found.specificity,
            found.specificity_ci,
        ),
    ]
    .map(|(exact, shown, value, ci)| share(exact, shown, value, ci))
}

fn agreed(found: &ReferenceFinding) -> [Vec<Cell>; 10] {
    let pair = found.majorities.as_ref();
    let specific = |label: &str| pair?.specific_agreement.get(label).copied().flatten();
    let index = |exact, shown, value| coefficient(exact, shown, value, None);
    let among = &found.among_experts;
    let (percent, alpha) = (&among.percent_agreement, &among.krippendorff_alpha);
    [
        share(
            "percent_agreement",
            "percent agreement",
            pair.and_then(|p| p.observed),
            None,
        ),
        share(
            "positive_agreement",
            "agreement on “correct”",
            specific("correct"),
            None,
        ),
        share(
            "negative_agreement",
            "agreement on “distorted”",
            specific("distorted"),
            None,
        ),
        coefficient(
            "kappa",
            "Cohen's kappa",
            pair.and_then(|p| p.estimate),
            pair.and_then(|p| p.ci),
        ),
        index("pabak", "PABAK", pair.and_then(|p| p.pabak)),
        index(
            "prevalence_index",
            "prevalence index",
            pair.and_then(|p| p.prevalence_index),
        ),
        index("bias_index", "bias index", pair.and_then(|p| p.bias_index)),
        coefficient("gwet_ac1", "Gwet's AC1", found.gwet_ac1, found.gwet_ac1_ci),
        share(
            "experts_percent",
            "experts among themselves: percent",
            percent.estimate,
            percent.ci,
        ),
        coefficient(
            "experts_alpha",
            "experts among themselves: alpha",
            alpha.estimate,
            alpha.ci,
        ),
    ]
}

fn share(exact: &str, shown: &str, value: Option<f64>, ci: Option<[f64; 2]>) -> Vec<Cell> {
    line(
        exact,
        shown,
        Cell::share(value),
        ci.map(|ci| Cell::shares(Some(ci))),
    )
}

fn coefficient(exact: &str, shown: &str, value: Option<f64>, ci: Option<[f64; 2]>) -> Vec<Cell> {
    line(
        exact,
        shown,
        Cell::coefficient(value),
        ci.map(|ci| Cell::limits(Some(ci))),
    )
}

fn line(exact: &str, shown: &str, value: Cell, ci: Option<Cell>) -> Vec<Cell> {
    let none = Cell {
        shown: String::new(),
        exact: vec![String::new(), String::new()],
    };
    vec![Cell::term(exact, shown), value, ci.unwrap_or(none)]
}
