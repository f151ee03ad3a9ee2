//! Intraclass correlations and Cochran's Q: what needs a complete table.

use super::super::Reasons;
use super::super::Scale;
use super::super::finite;
use super::Judged;
use super::finding::CochranFinding;
use super::finding::IccFinding;
use super::finding::IccFormFinding;
use super::finding::StrengthFinding;
use crate::stats::Undefined;
use crate::stats::agreement::IccForm;
use crate::stats::agreement::IccTable;
use crate::stats::agreement::Intraclass;
use crate::stats::agreement::StrengthScale;
use crate::stats::agreement::cochran_q;

pub(super) fn icc(
    judged: &Judged,
    scale: &Scale,
    confidence: f64,
    reasons: &mut Reasons,
) -> Option<IccFinding> {
    let Some(numbers) = scale.numbers() else {
        let reason = if judged.table.n_raters() < 2 {
            Undefined::OneRater.to_string()
        } else if scale.categories().len() < 2 {
            Undefined::OneCategoryScale.to_string()
        } else {
            "a nominal scale of more than two categories has no distances; give --scale interval for numbers".to_owned()
        };
        reasons.say("icc", reason);
        return None;
    };
    let squares = reasons.keep("icc", IccTable::of(&judged.table, &numbers))?;
    let mut form = |field: &str, form: IccForm, found: Result<Intraclass, Undefined>| {
        let found = reasons.keep(&format!("icc.{field}"), found)?;
        let [low, high] = found.interval;
        let ci = if low <= high {
            Ok(found.interval)
        } else {
            Err(Undefined::PastPole)
        };
        let ci = reasons.keep(&format!("icc.{field}.ci"), ci);
        Some(IccFormFinding {
            form: form.description(),
            estimate: finite(found.estimate),
            f: finite(found.f),
            df1: found.df1,
            df2: found.df2,
            p: finite(found.p),
            ci,
            strength: ci.map(words),
        })
    };
    let [one_way, random, fixed, one_way_k, random_k, fixed_k] = squares.forms(confidence);
    Some(IccFinding {
        icc1: form("icc1", IccForm::OneWaySingle, one_way),
        icc2: form("icc2", IccForm::RandomSingle, random),
        icc3: form("icc3", IccForm::FixedSingle, fixed),
        icc1k: form("icc1k", IccForm::OneWayMean, one_way_k),
        icc2k: form("icc2k", IccForm::RandomMean, random_k),
        icc3k: form("icc3k", IccForm::FixedMean, fixed_k),
    })
}

pub(super) fn cochran(judged: &Judged, reasons: &mut Reasons) -> Option<CochranFinding> {
    let found = reasons.keep("cochran_q", cochran_q(&judged.table))?;
    Some(CochranFinding {
        q: found.q,
        df: found.df,
        p: found.p,
    })
}

/// A word for each end of the interval.
fn words([low, high]: [f64; 2]) -> StrengthFinding {
    let scale = StrengthScale::KooLi;
    let (worst, best) = (scale.word(low), scale.word(high));
    StrengthFinding {
        word: if worst == best {
            worst.to_owned()
        } else {
            format!("{worst} to {best}")
        },
        scale: scale.name(),
        note: "a convention; the words of both ends of the interval",
    }
}
