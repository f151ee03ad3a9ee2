//! The story of the sample audio: a harbour-town clinic, four children with a distorted /s/, two peers,
//! two ways of cueing. All of it is invented.

use libm::exp;

use super::chance::Chance;
use super::voice;
use super::voice::Speaker;
use super::words::OTHERS;
use super::words::PROBE;
use super::words::Word;

/// One row of the manifest, with its sound where it has one.
pub(super) struct Row {
    pub(super) file: String,
    /// child, session, phase
    pub(super) place: [String; 3],
    pub(super) word: &'static Word,
    /// cohort, date
    pub(super) about: [&'static str; 2],
    pub(super) age_months: Option<u32>,
    pub(super) use_: &'static str,
    pub(super) answer: &'static str,
    pub(super) clinician_score: &'static str,
    pub(super) reason: &'static str,
    pub(super) quality: f64,
    pub(super) sound: Vec<i16>,
}

struct Child {
    code: &'static str,
    cohort: &'static str,
    age_months: u32,
    speaker: Speaker,
    /// The mean quality of the /s/ in each session.
    sessions: &'static [f64],
    use_: &'static str,
}

/// C01 gains much and keeps it; C02 gains something; C03 nothing; C04 gains early and loses most of it.
const CHILDREN: [Child; 6] = [
    child(
        "C01",
        "fixed cue",
        74,
        [272.0, 1.00, 1.00, 1.00],
        &[0.20, 0.24, 0.21, 0.48, 0.66, 0.80, 0.82, 0.80],
        "scored",
    ),
    child(
        "C02",
        "free search",
        81,
        [258.0, 0.97, 0.98, 0.95],
        &[0.24, 0.21, 0.26, 0.36, 0.48, 0.56, 0.56, 0.54],
        "scored",
    ),
    child(
        "C03",
        "fixed cue",
        69,
        [305.0, 1.05, 1.03, 1.05],
        &[0.20, 0.22, 0.19, 0.22, 0.24, 0.21, 0.20, 0.22],
        "scored",
    ),
    child(
        "C04",
        "free search",
        77,
        [288.0, 1.02, 1.01, 0.98],
        &[0.25, 0.23, 0.26, 0.56, 0.58, 0.50, 0.36, 0.29],
        "scored",
    ),
    child("P01", "", 75, [281.0, 1.01, 0.99, 1.02], &[0.88], "peer"),
    child("P02", "", 72, [265.0, 0.98, 1.02, 1.00], &[0.85], "peer"),
];

const fn child(
    code: &'static str,
    cohort: &'static str,
    age_months: u32,
    [pitch_hz, tract, hiss, pace]: [f64; 4],
    sessions: &'static [f64],
    use_: &'static str,
) -> Child {
    Child {
        code,
        cohort,
        age_months,
        speaker: Speaker {
            pitch_hz,
            tract,
            hiss,
            pace,
        },
        sessions,
        use_,
    }
}

const DATES: [&str; 8] = [
    "2031-01-13",
    "2031-01-20",
    "2031-01-27",
    "2031-02-17",
    "2031-03-10",
    "2031-03-31",
    "2031-05-05",
    "2031-06-16",
];

/// Rows of the probe that were not recorded: child, session, word, why.
const NOT_RECORDED: [(&str, usize, &str, &str); 2] = [
    ("C02", 2, "nest", "no response"),
    ("C04", 5, "salt", "not recorded: a door slammed"),
];

/// Speakers who are nobody's child: for checks, practice, warm-up and examples.
const OTHER_SPEAKERS: [Speaker; 3] = [
    Speaker {
        pitch_hz: 295.0,
        tract: 1.03,
        hiss: 1.02,
        pace: 1.03,
    },
    Speaker {
        pitch_hz: 250.0,
        tract: 0.96,
        hiss: 0.97,
        pace: 0.97,
    },
    Speaker {
        pitch_hz: 278.0,
        tract: 0.99,
        hiss: 1.00,
        pace: 1.00,
    },
];

/// Clear, distorted and between: use, answer, quality, how many.
const OTHER_USES: [(&str, &str, f64, usize); 9] = [
    ("check", "correct", 0.95, 6),
    ("check", "distorted", 0.05, 6),
    ("practice", "correct", 0.92, 2),
    ("practice", "distorted", 0.08, 2),
    ("practice", "divided", 0.50, 1),
    ("warm-up", "", 0.75, 4),
    ("example", "correct", 0.95, 2),
    ("example", "distorted", 0.06, 2),
    ("example", "divided", 0.50, 2),
];

/// All rows, children first.
pub(super) fn rows() -> Vec<Row> {
    let mut rows: Vec<Row> = CHILDREN.iter().flat_map(rows_of).collect();
    rows.extend(other_rows());
    rows
}

fn rows_of(child: &'static Child) -> Vec<Row> {
    let mut rows = Vec::new();
    for (index, mean) in child.sessions.iter().enumerate() {
        for word in PROBE {
            let label = format!("{}_{:02}_{}", child.code, index + 1, word.name);
            let mut chance = Chance::of(&label);
            let untreated = if word.treated { 0.0 } else { 0.03 };
            let quality = (mean - untreated + 0.13 * chance.normal()).clamp(0.02, 0.98);
            let reason = NOT_RECORDED
                .iter()
                .find(|(code, session, name, _)| {
                    (*code, *session, *name) == (child.code, index + 1, word.name)
                })
                .map_or("", |(.., why)| *why);
            let recorded = reason.is_empty();
            // She hopes, so her own score is kinder in treatment than a blind ear's.
            let kinder = if index > 2 { 0.08 } else { 0.0 };
            let heard_correct = quality + kinder + 0.08 * chance.normal() > 0.5;
            let scored = recorded && child.use_ == "scored";
            rows.push(Row {
                sound: if recorded {
                    voice::say(word, child.speaker, quality, &mut chance)
                } else {
                    Vec::new()
                },
                file: if recorded {
                    format!("{label}.flac")
                } else {
                    String::new()
                },
                place: [
                    child.code.to_owned(),
                    (index + 1).to_string(),
                    phase(index).to_owned(),
                ],
                word,
                about: [child.cohort, DATES[index]],
                age_months: Some(child.age_months),
                use_: child.use_,
                answer: "",
                clinician_score: match (scored, heard_correct) {
                    (false, _) => "",
                    (true, true) => "correct",
                    (true, false) => "distorted",
                },
                reason,
                quality,
            });
        }
    }
    rows
}

const fn phase(session: usize) -> &'static str {
    match session {
        0..3 => "baseline",
        3..6 => "treatment",
        _ => "maintenance",
    }
}

fn other_rows() -> Vec<Row> {
    let plan = OTHER_USES
        .iter()
        .flat_map(|(use_, answer, quality, n)| (0..*n).map(move |i| (*use_, *answer, *quality, i)));
    plan.enumerate()
        .map(|(number, (use_, answer, quality, i))| {
            let word = &OTHERS[(number * 5 + i) % OTHERS.len()];
            let speaker = OTHER_SPEAKERS[number % OTHER_SPEAKERS.len()];
            let label = format!("other_{:02}_{}", number + 1, word.name);
            let mut chance = Chance::of(&label);
            let quality = (quality + 0.02 * chance.even()).clamp(0.02, 0.98);
            Row {
                sound: voice::say(word, speaker, quality, &mut chance),
                file: format!("{label}.flac"),
                place: [const { String::new() }; 3],
                word,
                about: ["", ""],
                age_months: None,
                use_,
                answer,
                clinician_score: "",
                reason: "",
                quality,
            }
        })
        .collect()
}

/// What is true of a token, told from its quality.
pub(super) fn state(quality: f64) -> &'static str {
    match quality {
        q if q >= 0.65 => "clear",
        q if q <= 0.35 => "distorted",
        _ => "borderline",
    }
}

/// The probability that an ordinary listener calls a token correct: logistic in its quality.
pub(super) fn p_correct(quality: f64) -> f64 {
    1.0 / (1.0 + exp(-12.0 * (quality - 0.5)))
}
