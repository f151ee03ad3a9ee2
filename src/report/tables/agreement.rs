//! Agreement: every coefficient with both intervals, by phase and by child, by pairs, and the intraclass correlations.

use super::super::number::exact;
use super::super::number::maybe;
use super::super::table::Cell;
use super::super::table::Column;
use super::super::table::Table;
use super::COUNT;
use super::field;
use super::notes;
use super::number;
use super::words;
use crate::analysis::Agreement;
use crate::analysis::Labelled;
use crate::analysis::StrengthFinding;

const UP_TO_ONE: &str = "at most 1";

const COLUMNS: [Column; 5] = [
    words(
        "Measure",
        &[field("measure", "name of the coefficient", "", "a name")],
    ),
    number("Estimate", &[field("estimate", "its value", "", UP_TO_ONE)]),
    number(
        "These listeners",
        &[
            field(
                "ci_low",
                "lower limit for these listeners and other tokens",
                "",
                UP_TO_ONE,
            ),
            field("ci_high", "upper limit of the same", "", UP_TO_ONE),
        ],
    ),
    number(
        "Listeners like these",
        &[
            field(
                "ci_both_low",
                "lower limit for other listeners and other tokens",
                "",
                UP_TO_ONE,
            ),
            field("ci_both_high", "upper limit of the same", "", UP_TO_ONE),
        ],
    ),
    words(
        "In a word",
        &[field(
            "strength",
            "a word by convention, from the interval",
            "",
            "a word; empty: none is customary",
        )],
    ),
];

/// Every coefficient over all tokens.
pub fn agreement(found: &Agreement) -> Table {
    let percent = &found.percent_agreement;
    let mut rows = vec![share(
        "Percent agreement",
        percent.estimate,
        percent.ci,
        percent.ci_both,
    )];
    for (label, alone) in found.specific_agreement.iter() {
        rows.push(share(
            &format!("Agreement on “{label}”"),
            alone.estimate,
            None,
            None,
        ));
    }
    let (alpha, ac1, fleiss) = (
        &found.krippendorff_alpha,
        &found.gwet_ac1,
        &found.fleiss_kappa,
    );
    let (conger, bp) = (&found.conger_kappa, &found.brennan_prediger);
    rows.push(line(
        "Krippendorff's alpha",
        alpha.estimate,
        alpha.ci,
        alpha.ci_both,
        alpha.strength.as_ref(),
    ));
    rows.push(line(
        "Gwet's AC1",
        ac1.estimate,
        ac1.ci,
        ac1.ci_both,
        ac1.strength.as_ref(),
    ));
    rows.push(line(
        "Fleiss' kappa",
        fleiss.estimate,
        fleiss.ci,
        fleiss.ci_both,
        fleiss.strength.as_ref(),
    ));
    rows.push(line(
        "Conger's kappa",
        conger.estimate,
        conger.ci,
        None,
        None,
    ));
    rows.push(line("Brennan–Prediger", bp.estimate, bp.ci, None, None));
    rows.push(line(
        "Mean of the pairs' kappas",
        found.mean_pairwise_kappa,
        None,
        None,
        None,
    ));
    let mut said: Vec<String> = notes(std::iter::once((String::new(), &found.reasons)))
        .into_iter()
        // Two answers have no distances: nobody misses weights.
        .filter(|note| !note.contains("weighted"))
        .collect();
    let worded = [&fleiss.strength, &alpha.strength, &ac1.strength];
    if let Some(strength) = worded.into_iter().flatten().next() {
        said.push(format!("Words by {}; {}.", strength.scale, strength.note));
    }
    Table {
        name: "agreement",
        caption: "How far listeners agree.".to_owned(),
        columns: COLUMNS.to_vec(),
        rows,
        notes: said,
    }
}

fn line(
    name: &str,
    estimate: Option<f64>,
    ci: Option<[f64; 2]>,
    ci_both: Option<[f64; 2]>,
    strength: Option<&StrengthFinding>,
) -> Vec<Cell> {
    vec![
        Cell::words(name),
        Cell::coefficient(estimate),
        Cell::limits(ci),
        Cell::limits(ci_both),
        Cell::words(strength.map(|s| s.word.clone()).unwrap_or_default()),
    ]
}

fn share(
    name: &str,
    estimate: Option<f64>,
    ci: Option<[f64; 2]>,
    ci_both: Option<[f64; 2]>,
) -> Vec<Cell> {
    vec![
        Cell::words(name),
        Cell::share(estimate),
        Cell::shares(ci),
        Cell::shares(ci_both),
        Cell::words(""),
    ]
}

const BY: [Column; 8] = [
    words(
        "Part",
        &[field("part", "what is looked at", "", "phase, child")],
    ),
    words(
        "Of",
        &[field("label", "its label", "", "a phase or a child's code")],
    ),
    number(
        "Tokens",
        &[field("tokens", "tokens that were judged", "", COUNT)],
    ),
    number(
        "Judgements",
        &[field("judgements", "main judgements", "", COUNT)],
    ),
    number(
        "Percent agreement",
        &[field(
            "percent_agreement",
            "share of pairs of judgements of a token that agree",
            "share of 1",
            "0 to 1",
        )],
    ),
    number(
        "Alpha",
        &[field(
            "krippendorff_alpha",
            "Krippendorff's alpha",
            "",
            UP_TO_ONE,
        )],
    ),
    number(
        "Its interval",
        &[
            field(
                "krippendorff_alpha_ci_low",
                "lower limit for these listeners",
                "",
                UP_TO_ONE,
            ),
            field(
                "krippendorff_alpha_ci_high",
                "upper limit of the same",
                "",
                UP_TO_ONE,
            ),
        ],
    ),
    number("AC1", &[field("gwet_ac1", "Gwet's AC1", "", UP_TO_ONE)]),
];

/// Agreement in each phase and on each child.
pub fn agreement_by(found: &Agreement) -> Table {
    let mut rows = Vec::new();
    let mut narrow = Vec::new();
    for (part, parts) in [("phase", &found.by_phase), ("child", &found.by_child)] {
        for (label, of) in parts.iter().flat_map(Labelled::iter) {
            if of.reasons.of("krippendorff_alpha.narrow").is_some() {
                narrow.push(format!("{part} {label}"));
            }
            rows.push(vec![
                Cell::words(part),
                Cell::words(label),
                Cell::count(of.items),
                Cell::count(of.values),
                Cell::share(of.percent_agreement.estimate),
                Cell::coefficient(of.krippendorff_alpha.estimate),
                Cell::limits(of.krippendorff_alpha.ci),
                Cell::coefficient(of.gwet_ac1.estimate),
            ]);
        }
    }
    let mut notes = vec![
        "Where nearly all tokens sound alike, alpha falls though listeners agree: read it beside percent agreement and AC1.".to_owned(),
    ];
    if !narrow.is_empty() {
        notes.push(format!(
            "Too few tokens differ from the rest for the interval of alpha, which is too narrow: {}.",
            narrow.join(", ")
        ));
    }
    Table {
        name: "agreement_by",
        caption: "Agreement in each phase and on each child.".to_owned(),
        columns: BY.to_vec(),
        rows,
        notes,
    }
}

const PAIRS: [Column; 8] = [
    words(
        "Listener",
        &[field("rater_a", "the first listener", "", "a code")],
    ),
    words(
        "Listener (second)",
        &[field("rater_b", "the second listener", "", "a code")],
    ),
    number(
        "Tokens",
        &[field("items", "tokens that both judged", "", COUNT)],
    ),
    number(
        "Agreed",
        &[field(
            "observed",
            "share on which they agree",
            "share of 1",
            "0 to 1",
        )],
    ),
    number("Kappa", &[field("kappa", "Cohen's kappa", "", UP_TO_ONE)]),
    number(
        "Interval",
        &[
            field(
                "ci_low",
                "lower limit by the standard error of Fleiss, Cohen and Everitt 1969",
                "",
                UP_TO_ONE,
            ),
            field("ci_high", "upper limit of the same", "", UP_TO_ONE),
        ],
    ),
    number(
        "PABAK",
        &[field(
            "pabak",
            "twice the agreement seen, less 1",
            "",
            "-1 to 1",
        )],
    ),
    number(
        "Prevalence, bias",
        &[
            field(
                "prevalence_index",
                "how lopsided the material is",
                "",
                "-1 to 1",
            ),
            field(
                "bias_index",
                "how much more often the first says 'correct' than the second",
                "",
                "-1 to 1",
            ),
        ],
    ),
];

/// Cohen's kappa of each pair of listeners.
pub fn pairs(found: &Agreement) -> Table {
    let rows = found.cohen_kappa.iter().map(|pair| {
        vec![
            Cell::words(&pair.rater_a),
            Cell::words(&pair.rater_b),
            Cell::count(pair.items),
            Cell::share(pair.observed),
            Cell::coefficient(pair.estimate),
            Cell::limits(pair.ci),
            Cell::coefficient(pair.pabak),
            Cell {
                shown: format!(
                    "{}, {}",
                    maybe(pair.prevalence_index, 2),
                    maybe(pair.bias_index, 2)
                ),
                exact: vec![exact(pair.prevalence_index), exact(pair.bias_index)],
            },
        ]
    });
    Table {
        name: "pairs",
        caption: "Each pair of listeners.".to_owned(),
        columns: PAIRS.to_vec(),
        rows: rows.collect(),
        notes: Vec::new(),
    }
}

const INTRACLASS: [Column; 5] = [
    words(
        "Form",
        &[field(
            "form",
            "model, type and definition (Shrout and Fleiss 1979)",
            "",
            "a name",
        )],
    ),
    number(
        "Estimate",
        &[field("estimate", "intraclass correlation", "", UP_TO_ONE)],
    ),
    number(
        "Interval",
        &[
            field("ci_low", "lower limit by F", "", UP_TO_ONE),
            field("ci_high", "upper limit by F", "", UP_TO_ONE),
        ],
    ),
    number("F", &[field("f", "tokens against error", "", "at least 0")]),
    number("p", &[field("p", "upper tail of F", "", "0 to 1")]),
];

/// The six intraclass correlations, where the design allows them.
pub fn intraclass(found: &Agreement) -> Table {
    let forms = found.icc.iter().flat_map(|icc| {
        [
            &icc.icc1, &icc.icc2, &icc.icc3, &icc.icc1k, &icc.icc2k, &icc.icc3k,
        ]
    });
    let rows = forms.flatten().map(|form| {
        vec![
            Cell::words(form.form),
            Cell::coefficient(form.estimate),
            Cell::limits(form.ci),
            Cell::fixed(form.f, 2),
            Cell::p_value(form.p),
        ]
    });
    Table {
        name: "intraclass",
        caption: "Intraclass correlations; for two answers they are reference values.".to_owned(),
        columns: INTRACLASS.to_vec(),
        rows: rows.collect(),
        notes: Vec::new(),
    }
}
