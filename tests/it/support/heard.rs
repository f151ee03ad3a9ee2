//! An unlocked round made by hand: four children, two peers, a panel with one who guesses.

use fairhearing::analysis;
use fairhearing::analysis::RoundFindings;
use fairhearing::analysis::RoundTables;
use fairhearing::exchange;
use fairhearing::exchange::Form;
use fairhearing::study::Exclusion;
use fairhearing::study::Judgement;
use fairhearing::study::PresentationKind;
use fairhearing::study::RoundState;
use fairhearing::study::SetAside;
use fairhearing::study::Unlocked;
use fairhearing::study::record::Came;
use fairhearing::study::record::DeviationRecord;
use fairhearing::study::record::ExcludedRecord;
use fairhearing::study::record::KnownAnswers;
use fairhearing::study::record::ListenerRecord;
use fairhearing::study::record::Look;
use fairhearing::study::record::MissingRecord;
use fairhearing::study::record::PresentationRecord;
use fairhearing::study::record::RoundFacts;
use fairhearing::study::record::RoundMention;
use fairhearing::study::record::RoundRecord;
use fairhearing::study::record::TokenRecord;
use fairhearing::study::record::WhyAside;
use serde_json::json;

const WORDS: [&str; 10] = [
    "[s]ail", "[s]and", "[s]un", "[s]eal", "[s]oap", "bu[s]", "ga[s]", "hou[s]e", "me[ss]",
    "pa[ss]",
];

const LISTENERS: u32 = 8;

/// A child: code, cohort, use, sessions in baseline, treatment and maintenance, and how often a word of hers sounds
/// right before, during and after treatment.
type Spoken = (&'static str, &'static str, &'static str, [u32; 3], [f64; 3]);

const CHILDREN: [Spoken; 6] = [
    ("C01", "cued", "scored", [3, 6, 2], [0.15, 0.70, 0.75]),
    ("C02", "cued", "scored", [4, 5, 2], [0.30, 0.36, 0.40]),
    ("C03", "own-way", "scored", [5, 4, 2], [0.55, 0.20, 0.25]),
    ("C04", "own-way", "scored", [2, 2, 0], [0.20, 0.65, 0.00]),
    ("P01", "", "peer", [1, 0, 0], [0.95, 0.0, 0.0]),
    ("P02", "", "peer", [1, 0, 0], [0.90, 0.0, 0.0]),
];

const PLAN: &str = r#"
round = "spring"
[listeners]
invited = 9
judgements_per_token = 8
[sitting]
tokens = 300
checks = 8
[contrast]
from = "baseline"
to = "treatment"
[screening]
careful_accuracy = 0.9
rules = [{ rule = "min-check-accuracy", share = 0.75 }]
[analysis]
[texts]
consent_version = "1"
consent = "You agree to listen."
instruction = "Judge the s."
"#;

/// Numbers from 0 to 1 that only look like chance (Lehmer's generator, Park and Miller 1988).
struct Drawn(u64);

impl Drawn {
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }
}

/// The findings of the round, computed as for any round.
pub(crate) fn heard_round() -> RoundFindings {
    findings(&record())
}

/// The findings of a record.
pub(crate) fn findings(record: &RoundRecord) -> RoundFindings {
    let read = "the tables that we write can be read";
    let tables = RoundTables {
        ratings: exchange::read_ratings("r", exchange::write_ratings(record).as_slice())
            .expect(read),
        tokens: exchange::read_tokens(
            "t",
            exchange::write_tokens(record, Form::Internal).as_slice(),
        )
        .expect(read),
        key: exchange::read_answer_key("k", exchange::write_key(record).as_slice()).expect(read),
    };
    let unlocked = Unlocked::of(record.plan.round.clone(), RoundState::Unlocked).expect("unlocked");
    analysis::round(&unlocked, record, &tables).expect("tables and plan fit")
}

/// What was done otherwise than planned, a line each.
pub(crate) fn deviations_of(found: &RoundFindings) -> String {
    let said = found.round.deviations.iter().map(ToString::to_string);
    said.collect::<Vec<_>>().join("\n")
}

/// What the round yielded.
pub(crate) fn record() -> RoundRecord {
    let mut drawn = Drawn(20_261);
    let mut tokens = Vec::new();
    let mut presentations = Vec::new();
    let mut order = vec![0; LISTENERS as usize];
    for spoken in CHILDREN {
        speak(
            spoken,
            &mut tokens,
            &mut presentations,
            &mut order,
            &mut drawn,
        );
    }
    checks(&mut tokens, &mut presentations, &mut order);
    RoundRecord {
        facts: facts(),
        settings: serde_json::from_value(json!({
            "name": "Harbour s", "target": "the s sound",
            "phases": ["baseline", "treatment", "maintenance"], "cohorts": ["cued", "own-way"],
        }))
        .expect("settings"),
        plan: toml::from_str(PLAN).expect("a plan"),
        sealed: "{}".to_owned(),
        tokens,
        listeners: (0..=LISTENERS)
            .map(|n| ListenerRecord {
                code: listener(n).parse().expect("a code"),
                kind: fairhearing::study::ListenerKind::Naive,
                came: if n == LISTENERS {
                    Came::Opened
                } else {
                    Came::Finished
                },
                let_go: None,
            })
            .collect(),
        answers: Vec::new(),
        sound_checks: Vec::new(),
        presentations,
        assignment: None,
        not_random: None,
        masked: None,
        missing: vec![
            missing("C02", 3, "baseline", "pa[ss]", "no response"),
            missing("C03", 7, "treatment", "[s]un", "wrong word"),
            missing("C04", 3, "treatment", "[s]un", "no response"),
        ],
        excluded: vec![ExcludedRecord {
            child: "C02".to_owned(),
            session: 4,
            phase: "baseline".to_owned(),
            word: "ga[s]".to_owned(),
            reason: Exclusion::ClinicianVoice,
        }],
    }
}

fn listener(n: u32) -> String {
    format!("L{:02}", n + 1)
}

fn speak(
    (child, cohort, use_, sessions, accuracy): Spoken,
    tokens: &mut Vec<TokenRecord>,
    presentations: &mut Vec<PresentationRecord>,
    order: &mut [u32],
    drawn: &mut Drawn,
) {
    let phases = ["baseline", "treatment", "maintenance"];
    let mut session = 0;
    for ((phase, n), sounds_right) in phases.into_iter().zip(sessions).zip(accuracy) {
        for _ in 0..n {
            session += 1;
            // One session of C02 was never recorded.
            if child == "C02" && session == 6 {
                session += 1;
            }
            for word in WORDS {
                let name = format!("T{:04}", tokens.len() + 1);
                let quality: f64 = sounds_right + 0.5 * (drawn.next() - 0.5);
                tokens.push(token(&name, &json!({
                    "child": child, "session": session, "phase": phase,
                    "cohort": (!cohort.is_empty()).then_some(cohort), "condition": null,
                    "date": format!("2026-{:02}-{:02}", 1 + (session * 7) / 28, 1 + (session * 7) % 28),
                    "word": word, "target": null, "position": null, "treated": null, "attempt": 1,
                    "elicitation": "named", "age_months": 74, "use": use_, "answer": null,
                    "clinician_score": null, "file": null,
                })));
                for n in 0..LISTENERS {
                    // The last listener guesses.
                    let chance = if n == LISTENERS - 1 {
                        0.5
                    } else {
                        quality.clamp(0.03, 0.97)
                    };
                    let correct = drawn.next() < chance + 0.03 * f64::from(n % 3) - 0.03;
                    presentations.push(judged(&name, n, order, PresentationKind::Main, correct));
                }
            }
        }
    }
}

fn checks(
    tokens: &mut Vec<TokenRecord>,
    presentations: &mut Vec<PresentationRecord>,
    order: &mut [u32],
) {
    for place in 0..8 {
        let name = format!("T{:04}", tokens.len() + 1);
        let answer = place % 2 == 0;
        tokens.push(token(&name, &json!({
            "child": null, "session": null, "phase": null, "cohort": null, "condition": null, "date": null,
            "word": "[s]ock", "target": null, "position": null, "treated": null, "attempt": 1,
            "elicitation": null, "age_months": null, "use": "check",
            "answer": if answer { "correct" } else { "distorted" }, "clinician_score": null, "file": null,
        })));
        for n in 0..LISTENERS {
            let slip = n == LISTENERS - 1 && place % 3 != 0;
            presentations.push(judged(
                &name,
                n,
                order,
                PresentationKind::Check,
                answer != slip,
            ));
        }
    }
    let first = tokens
        .first()
        .map(|token| token.name.clone())
        .unwrap_or_default();
    for n in 0..LISTENERS {
        presentations.push(judged(
            &first,
            n,
            order,
            PresentationKind::Repeat,
            n % 4 == 0,
        ));
    }
    let mut aside = judged(&first, 0, order, PresentationKind::Repeat, true);
    aside.answer = None;
    aside.aside = Some(WhyAside::Said(SetAside::Noise));
    presentations.push(aside);
}

fn token(name: &str, key: &serde_json::Value) -> TokenRecord {
    TokenRecord {
        name: name.to_owned(),
        key: serde_json::from_value(key.clone()).expect("a key"),
        link: false,
        audio_sha256: "0".repeat(64),
        seconds: 0.9,
        level_lufs: -27.0,
        gain_db: 0.0,
        snr_db: Some(32.0),
        bandwidth_hz: 15_000.0,
        marks: Vec::new(),
    }
}

fn judged(
    token: &str,
    n: u32,
    order: &mut [u32],
    kind: PresentationKind,
    correct: bool,
) -> PresentationRecord {
    let place = &mut order[n as usize];
    *place += 1;
    PresentationRecord {
        token: token.to_owned(),
        listener: listener(n).parse().expect("a code"),
        kind,
        sitting: 1,
        order: *place,
        answer: Some(if correct {
            Judgement::Correct
        } else {
            Judgement::Distorted
        }),
        aside: None,
        revisions: 1,
        rt_ms: Some(600 + 40 * n),
        rt_grain_ms: Some(3),
        replays: Some(0),
        voided: 0,
        known_speaker: false,
    }
}

fn missing(child: &str, session: u32, phase: &str, word: &str, reason: &str) -> MissingRecord {
    MissingRecord {
        child: child.to_owned(),
        session,
        phase: phase.to_owned(),
        word: word.to_owned(),
        reason: reason.to_owned(),
    }
}

fn facts() -> RoundFacts {
    RoundFacts {
        round: "spring".to_owned(),
        seal: "5ea1".repeat(16),
        sealed_by: "0.1.0".to_owned(),
        opened: "2026-05-04T08:00:00Z".to_owned(),
        closed: "2026-05-18T19:30:12.345Z".to_owned(),
        seed: "5eed".repeat(16),
        events: 4_711,
        head: "4ead".repeat(16),
        rounds: vec![RoundMention {
            round: "spring".to_owned(),
            seal: "5ea1".repeat(16),
            state: RoundState::Closed,
            later: false,
            shared_tokens: 408,
        }],
        assignments: Vec::new(),
        look: Look {
            taken: 1,
            planned: None,
        },
        deviations: vec![DeviationRecord {
            said: "2026-05-11T10:00:00Z: a judgement that came late made one more than was planned of its word".to_owned(),
            reason: None,
        }],
        known_answers: Some(KnownAnswers {
            by_two: 6,
            by_one: 2,
            with_a_reason: 1,
        }),
        simulated: false,
        withdrawn: 0,
    }
}
