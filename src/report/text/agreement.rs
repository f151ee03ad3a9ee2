//! Agreement as a readable table.

use std::fmt::Write;

use super::columns::NO_JUDGEMENTS;
use super::columns::columns;
use super::columns::counted;
use super::columns::header;
use super::columns::interval;
use super::columns::number;
use super::columns::p_value;
use crate::analysis::Agreement;
use crate::analysis::Labelled;
use crate::analysis::StrengthFinding;

/// More pairs than this are summed up in one line.
const MOST_PAIRS: usize = 20;

/// Agreement as a readable table: every coefficient beside percent and specific agreement, none alone.
pub fn agreement(found: &Agreement) -> String {
    let mut text = whole(found);
    for (title, parts) in [("phase", &found.by_phase), ("child", &found.by_child)] {
        for (label, part) in parts.iter().flat_map(Labelled::iter) {
            // Writing to a String cannot fail.
            let _ = write!(text, "\n== {title} {label}\n\n{}", coefficients(part));
        }
    }
    text
}

fn whole(found: &Agreement) -> String {
    if found.values == 0 {
        return NO_JUDGEMENTS.to_owned();
    }
    let mut text = format!(
        "{} of {} by {}{}; categories: {}\n\n",
        counted(found.values, "judgement"),
        counted(found.items, "item"),
        counted(found.raters, "rater"),
        if found.complete {
            ", complete"
        } else {
            ", with gaps"
        },
        found.categories.join(", "),
    );
    text.push_str(&coefficients(found));
    text.push_str(&pairs(found));
    text.push_str(&complete_tables(found));
    if !found.reasons.is_empty() {
        text.push_str("\nNot computed, or with something left out:\n");
        for (field, reason) in found.reasons.iter() {
            let _ = writeln!(text, "  {field}: {reason}");
        }
    }
    text
}

fn coefficients(found: &Agreement) -> String {
    let mut rows = vec![header([
        "",
        "estimate",
        "these raters",
        "raters like them",
        "",
    ])];
    let percent = &found.percent_agreement;
    rows.push(line(
        "Percent agreement",
        percent.estimate,
        percent.ci,
        percent.ci_both,
        None,
    ));
    for (label, specific) in found.specific_agreement.iter() {
        rows.push(line(
            &format!("  on `{label}`"),
            specific.estimate,
            None,
            None,
            None,
        ));
    }
    let fleiss = &found.fleiss_kappa;
    rows.push(line(
        "Fleiss' kappa",
        fleiss.estimate,
        fleiss.ci,
        fleiss.ci_both,
        fleiss.strength.as_ref(),
    ));
    let alpha = &found.krippendorff_alpha;
    rows.push(line(
        "Krippendorff's alpha",
        alpha.estimate,
        alpha.ci,
        alpha.ci_both,
        alpha.strength.as_ref(),
    ));
    let ac1 = &found.gwet_ac1;
    rows.push(line(
        "Gwet's AC1",
        ac1.estimate,
        ac1.ci,
        ac1.ci_both,
        ac1.strength.as_ref(),
    ));
    let bp = &found.brennan_prediger;
    rows.push(line("Brennan-Prediger", bp.estimate, bp.ci, None, None));
    let conger = &found.conger_kappa;
    rows.push(line(
        "Conger's kappa",
        conger.estimate,
        conger.ci,
        None,
        None,
    ));
    rows.push(line(
        "Mean pairwise kappa",
        found.mean_pairwise_kappa,
        None,
        None,
        None,
    ));
    let mut text = columns(&rows);
    let worded = [&fleiss.strength, &alpha.strength, &ac1.strength];
    if let Some(strength) = worded.into_iter().flatten().next() {
        let _ = writeln!(text, "Words: {}; {}.", strength.scale, strength.note);
    }
    text
}

fn pairs(found: &Agreement) -> String {
    if found.cohen_kappa.is_empty() {
        return String::new();
    }
    if found.cohen_kappa.len() > MOST_PAIRS {
        let mut kappas: Vec<f64> = found
            .cohen_kappa
            .iter()
            .filter_map(|pair| pair.estimate)
            .collect();
        kappas.sort_unstable_by(f64::total_cmp);
        return format!(
            "\nCohen's kappa of {} pairs: from {} to {} (each pair: --json)\n",
            found.cohen_kappa.len(),
            number(kappas.first().copied()),
            number(kappas.last().copied()),
        );
    }
    let mut rows = vec![header([
        "Pair",
        "items",
        "agreed",
        "kappa",
        "interval",
        "p",
        "PABAK",
        "prevalence",
        "bias",
    ])];
    for pair in &found.cohen_kappa {
        rows.push(vec![
            format!("{} – {}", pair.rater_a, pair.rater_b),
            pair.items.to_string(),
            number(pair.observed),
            number(pair.estimate),
            interval(pair.ci),
            p_value(pair.p),
            number(pair.pabak),
            number(pair.prevalence_index),
            number(pair.bias_index),
        ]);
    }
    format!("\n{}", columns(&rows))
}

fn complete_tables(found: &Agreement) -> String {
    let mut text = String::new();
    if let Some(icc) = &found.icc {
        let mut rows = vec![header([
            "Intraclass correlation",
            "estimate",
            "interval",
            "F",
            "p",
            "",
        ])];
        let forms = [
            &icc.icc1, &icc.icc2, &icc.icc3, &icc.icc1k, &icc.icc2k, &icc.icc3k,
        ];
        for form in forms.into_iter().flatten() {
            rows.push(vec![
                form.form.to_owned(),
                number(form.estimate),
                interval(form.ci),
                number(form.f),
                p_value(form.p),
                form.strength
                    .as_ref()
                    .map(|s| s.word.clone())
                    .unwrap_or_default(),
            ]);
        }
        let _ = write!(
            text,
            "\n{}Words: Koo & Li 2016, a convention. For 0/1 judgements these are reference values.\n",
            columns(&rows)
        );
    }
    if let Some(q) = &found.cochran_q {
        let _ = writeln!(
            text,
            "\nCochran's Q {}, df {}, p {}",
            number(Some(q.q)),
            q.df,
            p_value(Some(q.p))
        );
    }
    text
}

fn line(
    name: &str,
    estimate: Option<f64>,
    ci: Option<[f64; 2]>,
    ci_both: Option<[f64; 2]>,
    strength: Option<&StrengthFinding>,
) -> Vec<String> {
    vec![
        name.to_owned(),
        number(estimate),
        interval(ci),
        interval(ci_both),
        strength
            .map(|strength| strength.word.clone())
            .unwrap_or_default(),
    ]
}
