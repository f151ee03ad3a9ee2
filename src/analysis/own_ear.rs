//! The clinician's own ear: her scores in the sessions beside the panel's, session by session, and over the months.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Consensus;
use super::Reasons;
use crate::stats::special::StudentT;
use crate::study::Judgement;
use crate::study::record::RoundRecord;

/// How the scores that were given in the sessions stand beside the panel's.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnEar {
    /// Each session in which words were scored.
    pub sessions: Vec<OwnEarSession>,
    /// Words that both scored.
    pub words: usize,
    /// The share of words on which she and the panel's majority agree; a tie counts one half.
    pub agreement: f64,
    /// Her share of `correct` less the panel's: above 0 she is more lenient.
    pub leniency: f64,
    /// Its interval, by Student's t over sessions.
    pub leniency_ci: Option<[f64; 2]>,
    /// How much her leniency grew in 30 days, by least squares over sessions.
    pub drift_per_month: Option<f64>,
    /// Its interval.
    pub drift_ci: Option<[f64; 2]>,
    /// The same in plain words.
    pub sentence: String,
    /// Why a field is `null`.
    #[serde(skip_serializing_if = "Reasons::is_empty")]
    pub reasons: Reasons,
}

/// One session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnEarSession {
    /// The child's code.
    pub child: String,
    /// The recording occasion.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// Days since the first of these sessions, where the dates are known.
    pub day: Option<u32>,
    /// Words that both scored.
    pub words: usize,
    /// Her share of `correct`.
    pub hers: f64,
    /// The panel's mean share of `correct` of the same words.
    pub panel: f64,
    /// The share of words on which she and the panel's majority agree.
    pub agreement: f64,
}

/// Compares; nothing where no word was scored in its session.
pub(super) fn own_ear(
    record: &RoundRecord,
    consensus: &Consensus,
    confidence: f64,
) -> Option<OwnEar> {
    let sessions = sessions(record, consensus);
    let n = sessions.len() as f64;
    let words: usize = sessions.iter().map(|session| session.words).sum();
    if words == 0 {
        return None;
    }
    let agreed: f64 = sessions.iter().map(|s| s.agreement * s.words as f64).sum();
    let mut reasons = Reasons::new();
    let gaps: Vec<f64> = sessions.iter().map(|s| s.hers - s.panel).collect();
    let leniency = gaps.iter().sum::<f64>() / n;
    let leniency_ci =
        spread(&gaps, leniency).and_then(|error| limits(leniency, error, n - 1.0, confidence));
    if leniency_ci.is_none() {
        reasons.say(
            "leniency_ci",
            "one session only, or no session differs from another",
        );
    }
    let (drift_per_month, drift_ci) = if let Some((slope, ci)) = drift(&sessions, confidence) {
        (Some(slope), ci)
    } else {
        reasons.say(
            "drift_per_month",
            "fewer than three sessions on different days are dated",
        );
        (None, None)
    };
    let agreement = agreed / words as f64;
    Some(OwnEar {
        sentence: sentence(
            words,
            agreement,
            leniency,
            leniency_ci,
            drift_per_month.zip(drift_ci),
        ),
        sessions,
        words,
        agreement,
        leniency,
        leniency_ci,
        drift_per_month,
        drift_ci,
        reasons,
    })
}

fn sessions(record: &RoundRecord, consensus: &Consensus) -> Vec<OwnEarSession> {
    let heard: BTreeMap<&str, (f64, &str)> = consensus
        .items
        .iter()
        .map(|item| {
            (
                item.item.as_str(),
                (item.proportion, item.majority.as_str()),
            )
        })
        .collect();
    let mut found: BTreeMap<(String, u32), OwnEarSession> = BTreeMap::new();
    let scored = record
        .tokens
        .iter()
        .filter(|token| token.key.use_.is_scored() && !token.link);
    let first = scored.clone().filter_map(|token| token.key.date).min();
    for token in scored {
        let key = &token.key;
        let (Some(hers), Some(child), Some(session), Some((share, majority))) = (
            key.clinician_score,
            key.child.as_ref(),
            key.session,
            heard.get(token.name.as_str()),
        ) else {
            continue;
        };
        let day = key
            .date
            .zip(first)
            .and_then(|(day, first)| u32::try_from((day - first).get_days()).ok());
        let row = found
            .entry((child.to_string(), session))
            .or_insert_with(|| OwnEarSession {
                child: child.to_string(),
                session,
                phase: key
                    .phase
                    .as_ref()
                    .map(ToString::to_string)
                    .unwrap_or_default(),
                day,
                words: 0,
                hers: 0.0,
                panel: 0.0,
                agreement: 0.0,
            });
        row.words += 1;
        row.hers += f64::from(u8::from(hers == Judgement::Correct));
        row.panel += share;
        row.agreement += match *majority {
            "tie" => 0.5,
            said => f64::from(u8::from(said == hers.as_str())),
        };
    }
    let mut sessions: Vec<OwnEarSession> = found.into_values().collect();
    for session in &mut sessions {
        let words = session.words as f64;
        session.hers /= words;
        session.panel /= words;
        session.agreement /= words;
    }
    sessions
}

/// The standard error of a mean; nothing below two values, or where none varies.
fn spread(values: &[f64], mean: f64) -> Option<f64> {
    let n = values.len() as f64;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (n > 1.0 && squares > 1e-18).then(|| (squares / (n - 1.0) / n).sqrt())
}

fn limits(estimate: f64, error: f64, df: f64, confidence: f64) -> Option<[f64; 2]> {
    let t = StudentT::new(df).ok()?.quantile(0.5 + confidence / 2.0);
    Some([estimate - t * error, estimate + t * error])
}

/// The slope of her leniency over months of 30 days, and its interval: ordinary least squares, sessions as points.
fn drift(sessions: &[OwnEarSession], confidence: f64) -> Option<(f64, Option<[f64; 2]>)> {
    let points: Vec<(f64, f64)> = sessions
        .iter()
        .filter_map(|s| Some((f64::from(s.day?) / 30.0, s.hers - s.panel)))
        .collect();
    let n = points.len() as f64;
    if points.len() < 3 {
        return None;
    }
    let (x, y) = (
        points.iter().map(|p| p.0).sum::<f64>() / n,
        points.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sxx: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    if sxx <= 1e-12 {
        return None;
    }
    let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>() / sxx;
    let rest: f64 = points
        .iter()
        .map(|p| (p.1 - y - slope * (p.0 - x)).powi(2))
        .sum();
    let error = (rest / (n - 2.0) / sxx).sqrt();
    Some((slope, limits(slope, error, n - 2.0, confidence)))
}

/// Kindly: an ear that knows the child hears more than a word, and the panel hears less.
fn sentence(
    words: usize,
    agreement: f64,
    leniency: f64,
    ci: Option<[f64; 2]>,
    drift: Option<(f64, [f64; 2])>,
) -> String {
    let points = |share: f64| (share.abs() * 100.0).round();
    let agreed = (agreement * 100.0).round();
    let beside = match ci {
        Some([low, _]) if low > 0.0 => format!(
            "The scores in the sessions were {} points kinder than the panel's; that is common where one knows the child and hopes for her",
            points(leniency)
        ),
        Some([_, high]) if high < 0.0 => format!(
            "The scores in the sessions were {} points stricter than the panel's",
            points(leniency)
        ),
        Some(_) => "Over all, the scores in the sessions were neither clearly kinder nor clearly stricter than the panel's".to_owned(),
        None => "One session does not tell whether these scores are kinder or stricter than the panel's".to_owned(),
    };
    let over_time = match drift {
        Some((slope, [low, _])) if low > 0.0 => format!(
            " They grew kinder by about {} points a month: an ear learns its child, and a look back at early recordings may help.",
            points(slope)
        ),
        Some((slope, [_, high])) if high < 0.0 => format!(
            " They grew stricter by about {} points a month: an ear sharpens too, and a look back at early recordings may help.",
            points(slope)
        ),
        Some(_) => " No drift over the months can be told.".to_owned(),
        None => String::new(),
    };
    format!(
        "Of {words} words that were scored in the session, {agreed}% were scored as the panel's majority heard them. {beside}.{over_time}"
    )
}
