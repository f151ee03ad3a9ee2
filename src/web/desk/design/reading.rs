//! The form of a round as a plan: the same type that `seal --plan` reads from a file.

use serde_json::Value;
use serde_json::json;

use crate::app::planning::Material;
use crate::app::planning::Volunteers;
use crate::study::ChildCode;
use crate::study::Confidence;
use crate::study::ListenerKind;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::course::Check;
use crate::study::course::Failed;
use crate::study::course::OwnQuestion;
use crate::study::course::Practice;
use crate::study::course::Question;
use crate::study::course::Questions;
use crate::study::course::Rests;
use crate::study::course::SoundChecks;
use crate::study::course::Target;
use crate::study::plan::Analysis;
use crate::study::plan::Attempts;
use crate::study::plan::Bar;
use crate::study::plan::Listeners;
use crate::study::plan::MaskedAnalysis;
use crate::study::plan::Screening;
use crate::study::plan::Sitting;
use crate::study::plan::Texts;
use crate::study::plan::TokenChoice;
use crate::web::desk::form::FieldProblem;
use crate::web::desk::form::Reader;
use crate::web::desk::form::Values;
use crate::web::desk::form::contrast;
use crate::web::desk::form::sentence;

/// The name of a round that has none yet; the page has its address there.
const NO_NAME: &str = "new";

/// A form that was read.
pub(super) struct Filled {
    /// The plan, with something in place of what is wrong.
    pub(super) plan: Plan,
    /// Who is asked about backwards.
    pub(super) volunteers: Option<Volunteers>,
    /// What is wrong with fields, in the order of the form.
    pub(super) problems: Vec<FieldProblem>,
}

impl Filled {
    /// Whether the numbers are right: texts do not matter to a forecast.
    pub(super) fn can_be_forecast(&self) -> bool {
        let beside = |field: &str| {
            field == "round" || field.starts_with("text-") || field.starts_with("own-")
        };
        self.problems.iter().all(|problem| beside(&problem.field))
    }
}

/// Reads a form. `None`: not even a study is there to plan for, as it has no two phases.
pub(super) fn read(values: &Values, material: &Material) -> Option<Filled> {
    let mut reader = Reader::new(values);
    let round = reader.made("round", "Give the round a name.", RoundName::new);
    if round.as_ref().is_some_and(|name| name.as_str() == NO_NAME) {
        reader.say(
            "round",
            "“new” is the address of this page. Choose another name.",
        );
    }
    let plan = Plan {
        round: round.or_else(|| RoundName::new(NO_NAME).ok())?,
        tokens: tokens(&mut reader, material),
        listeners: listeners(&mut reader, material),
        sitting: sitting(&mut reader),
        practice: practice(&mut reader),
        rests: Rests {
            every: reader.whole("rest-every", 0),
            words_a_day: reader.whole("words-a-day", 0),
            minutes_a_day: reader.whole("minutes-a-day", 0),
        },
        sound_check: SoundChecks {
            first_sound: reader.choice("first-sound", CHECKS, Check::Record),
            headphones: reader.choice("headphones", CHECKS, Check::Off),
        },
        questions: questions(&mut reader),
        targets: targets(&mut reader, material),
        contrast: contrast::read(&mut reader, &material.phases)?,
        screening: screening(&mut reader),
        analysis: analysis(&mut reader),
        masked_analysis: MaskedAnalysis {
            planned: reader.ticked("masked-analysis"),
        },
        texts: texts(&mut reader),
    };
    together(&mut reader, &plan);
    let volunteers = volunteers(&mut reader);
    Some(Filled {
        plan,
        volunteers,
        problems: reader.problems,
    })
}

const CHECKS: &[(&str, Check)] = &[
    ("off", Check::Off),
    ("record", Check::Record),
    ("require", Check::Require),
];

fn tokens(reader: &mut Reader<'_>, material: &Material) -> TokenChoice {
    let child = |code: &str| {
        material
            .children
            .iter()
            .find(|child| child.as_str() == code)
    };
    let phase = |name: &str| material.phases.iter().find(|phase| phase.as_str() == name);
    TokenChoice {
        children: reader.several("children", |code| child(code).cloned()),
        phases: reader.several("phases", |name| phase(name).cloned()),
        attempts: reader.choice(
            "attempts",
            &[
                ("first", Attempts::First),
                ("last", Attempts::Last),
                ("all", Attempts::All),
            ],
            Attempts::First,
        ),
        sample_sessions: reader.whole_if_any("sample-sessions", 1),
        sample_words: reader.whole_if_any("sample-words", 1),
        only_new: reader.ticked("only-new"),
        links: reader
            .percent_if_any("links")
            .unwrap_or_else(|| TokenChoice::default().links),
    }
}

fn listeners(reader: &mut Reader<'_>, material: &Material) -> Listeners {
    let invited = reader.whole("invited", 0);
    Listeners {
        invited,
        open: reader.whole_if_any("open", 0).unwrap_or(0),
        link_days: reader.whole_if_any("link-days", 1),
        kind: reader.choice(
            "kind",
            &[
                ("naive", ListenerKind::Naive),
                ("expert", ListenerKind::Expert),
            ],
            ListenerKind::Naive,
        ),
        judgements_per_token: reader.whole("judgements", 1),
        simulated: false,
        sittings: reader.whole("sittings", 1),
        bars: bars(reader, material, invited),
    }
}

/// Bars as they are typed: `3 C01, 5 C02`.
fn bars(reader: &mut Reader<'_>, material: &Material, invited: u32) -> Vec<Bar> {
    let text = reader.text_if_any("bars").unwrap_or_default();
    let mut bars = Vec::new();
    for part in text
        .split([',', ';', '\n'])
        .map(str::trim)
        .filter(|part| !part.is_empty())
    {
        match bar(part, material, invited) {
            Ok(bar) => bars.push(bar),
            Err(said) => reader.say("bars", said),
        }
    }
    bars
}

fn bar(part: &str, material: &Material, invited: u32) -> Result<Bar, String> {
    let (number, child) = part.split_once(char::is_whitespace).ok_or_else(|| {
        format!("“{part}” is no bar. Write a listener's number and a child's code, such as 3 C01.")
    })?;
    let listener: u32 = number
        .parse()
        .ok()
        .filter(|number| (1..=invited).contains(number))
        .ok_or_else(|| {
            format!("There is no personal link {number}. They are numbered from 1 to {invited}.")
        })?;
    let child = ChildCode::new(child)
        .ok()
        .filter(|child| material.children.contains(child))
        .ok_or_else(|| {
            format!(
                "The study has no child {}. Look for the code under Study.",
                child.trim()
            )
        })?;
    Ok(Bar { listener, child })
}

fn sitting(reader: &mut Reader<'_>) -> Sitting {
    Sitting {
        tokens: reader.whole("tokens", 1),
        repeats: reader.percent("repeats"),
        repeat_distance: reader.whole("repeat-distance", 0),
        checks: reader.whole("checks", 0),
        practice: reader.whole("practice", 0),
        warm_up: reader.whole("warm-up", 0),
        replays: reader.whole("replays", 0),
        may_change: reader.ticked("may-change"),
        show_word: reader.ticked("show-word"),
        give_back_minutes: reader.whole("give-back", 1),
    }
}

fn practice(reader: &mut Reader<'_>) -> Practice {
    Practice {
        pass: reader.percent("practice-pass"),
        tries: reader.whole("practice-tries", 1),
        failed: reader.choice(
            "practice-failed",
            &[("go-on", Failed::GoOn), ("let-go", Failed::LetGo)],
            Failed::GoOn,
        ),
        again_hours: reader.whole("practice-again", 1),
    }
}

fn questions(reader: &mut Reader<'_>) -> Questions {
    let known = |name: &str| Question::ALL.into_iter().find(|one| one.name() == name);
    let own = reader.text_if_any("own-questions").unwrap_or_default();
    let own = own.lines().filter(|line| !line.trim().is_empty());
    Questions {
        ask: reader.several("ask", known),
        own: own.map(own_question).collect(),
    }
}

/// One line: name | question | choice | choice …
fn own_question(line: &str) -> OwnQuestion {
    let mut parts = line.split('|').map(|part| part.trim().to_owned());
    OwnQuestion {
        name: parts.next().unwrap_or_default(),
        ask: parts.next().unwrap_or_default(),
        choices: parts.collect(),
    }
}

fn targets(reader: &mut Reader<'_>, material: &Material) -> Vec<Target> {
    if material.targets.len() < 2 {
        return Vec::new();
    }
    let numbered = material.targets.iter().enumerate();
    numbered
        .map(|(number, target)| Target {
            target: target.clone(),
            name: reader.text(
                &format!("text-target-{number}-name"),
                "Write what listeners are told the sound is called.",
            ),
            instruction: reader.text(
                &format!("text-target-{number}-instruction"),
                "Write what to judge of this sound.",
            ),
        })
        .collect()
}

fn screening(reader: &mut Reader<'_>) -> Screening {
    Screening {
        careful_accuracy: reader.percent("careful"),
        rules: rules(reader),
        live: Some(reader.ticked("live")),
        live_after_checks: reader.whole_if_any("live-after", 0),
    }
}

/// The rules that are filled in, in the order in which they apply.
fn rules(reader: &mut Reader<'_>) -> Vec<Value> {
    let mut rules = Vec::new();
    if let Some(right) = reader.whole_if_any("rule-checks-right", 0) {
        rules.push(json!({"rule": "min-checks-right", "right": right}));
    }
    let mut share = |reader: &mut Reader<'_>, field: &str, rule: &str| {
        if let Some(share) = reader.percent_if_any(field) {
            rules.push(json!({"rule": rule, "share": share.get()}));
        }
    };
    share(reader, "rule-check-accuracy", "min-check-accuracy");
    share(reader, "rule-repeats", "min-repeat-agreement");
    share(reader, "rule-one-answer", "max-share-of-one-answer");
    share(reader, "rule-rest-of-panel", "min-rest-of-panel-agreement");
    if let Some(ms) = reader.whole_if_any("rule-median-time", 0) {
        rules.push(json!({"rule": "min-median-response-time", "ms": f64::from(ms)}));
    }
    let faster_than = reader.whole_if_any("rule-too-fast", 1);
    let too_many = reader.percent_if_any("rule-too-fast-share");
    match (faster_than, too_many) {
        (Some(ms), Some(share)) => rules.push(json!({
            "rule": "max-share-too-fast", "faster_than_ms": f64::from(ms), "share": share.get(),
        })),
        (Some(_), None) => reader.say(
            "rule-too-fast-share",
            "Write how many answers may be so fast, such as 20.",
        ),
        (None, Some(_)) => reader.say(
            "rule-too-fast",
            "Write which time is too fast, such as 200.",
        ),
        (None, None) => {}
    }
    if let Some(count) = reader.whole_if_any("rule-judgements", 1) {
        rules.push(json!({"rule": "min-judgements", "count": count}));
    }
    rules
}

fn analysis(reader: &mut Reader<'_>) -> Analysis {
    let confidence = reader.percent("confidence");
    let confidence = Confidence::new(confidence.get()).unwrap_or_else(|_| {
        reader.say(
            "confidence",
            "Write a percentage above 0 and below 100; 95 is usual.",
        );
        Confidence::NINETY_FIVE
    });
    Analysis {
        confidence,
        seed: u64::from(reader.whole("seed", 0)),
    }
}

fn texts(reader: &mut Reader<'_>) -> Texts {
    Texts {
        consent_version: reader.text(
            "text-consent-version",
            "Name the version, as your ethics board knows it.",
        ),
        consent: reader.text("text-consent", "Write what a listener agrees to."),
        instruction: reader.text(
            "text-instruction",
            "Write what to judge, and what to leave out of account.",
        ),
        assent: reader.text_if_any("text-assent"),
        payment: reader.text_if_any("text-payment"),
        correct: reader.text_if_any("text-correct"),
        distorted: reader.text_if_any("text-distorted"),
        thanks: reader.text_if_any("text-thanks"),
    }
}

/// What fields say against each other.
fn together(reader: &mut Reader<'_>, plan: &Plan) {
    let listeners = &plan.listeners;
    if listeners.invited == 0 && listeners.open == 0 {
        reader.say(
            "invited",
            "Nobody is invited. Give at least one personal link, or an open link below.",
        );
    }
    if plan.contrast.from == plan.contrast.to {
        reader.say(
            "contrast-to",
            "Both sides are the same phase. Choose another one here.",
        );
    }
    let heard = plan.sitting.checks.saturating_mul(listeners.sittings);
    if plan
        .screening
        .live_after()
        .is_some_and(|after| after > heard)
    {
        reader.say(
            "live-after",
            format!("A listener hears {heard} checks. Ask for no more than that."),
        );
    }
    // What is left to the plan itself: the questions of the study's own, whose sentences name them.
    if let Err(refused) = plan.clone().settled().check()
        && reader.problems.is_empty()
    {
        reader.say("own-questions", sentence(&refused.to_string()));
    }
}

fn volunteers(reader: &mut Reader<'_>) -> Option<Volunteers> {
    let listeners = reader.whole_if_any("volunteers", 1);
    let minutes = reader.whole_if_any("volunteer-minutes", 1);
    match (listeners, minutes) {
        (Some(listeners), Some(minutes)) => Some(Volunteers {
            listeners,
            minutes: f64::from(minutes),
        }),
        (Some(_), None) => {
            reader.say(
                "volunteer-minutes",
                "Write how many minutes each of them has.",
            );
            None
        }
        (None, Some(_)) => {
            reader.say("volunteers", "Write how many volunteers there are.");
            None
        }
        (None, None) => None,
    }
}
