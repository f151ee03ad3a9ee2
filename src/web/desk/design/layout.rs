//! The form of a round: its parts and lines, in the order in which a round is thought out.

use crate::app::planning::Material;
use crate::report::number::counted;
use crate::study::ChildCode;
use crate::study::Phase;
use crate::study::Use;
use crate::web::desk::form::FieldProblem;
use crate::web::desk::form::Line;
use crate::web::desk::form::Part;
use crate::web::desk::form::Values;
use crate::web::desk::form::contrast;

/// The parts of the form with what stands in them and what is wrong with it.
pub(super) fn parts(values: &Values, material: &Material, wrong: &[FieldProblem]) -> Vec<Part> {
    let mut parts = vec![
        name_and_words(material),
        listeners(),
        sitting(material),
        course(),
        compared(material),
        screening(material),
        texts(material),
    ];
    for part in &mut parts {
        part.fill(values, wrong);
    }
    parts
}

/// The fields of the question backwards.
pub(super) fn volunteers(values: &Values, wrong: &[FieldProblem]) -> [Line; 2] {
    [
        Line::number("volunteers", "Volunteers", ""),
        Line::number("volunteer-minutes", "Minutes that each of them has", "min"),
    ]
    .map(|line| line.filled(values).told(wrong))
}

fn phase_choices(phases: &[Phase]) -> Vec<(&str, &str)> {
    phases
        .iter()
        .map(|phase| (phase.as_str(), phase.as_str()))
        .collect()
}

fn name_and_words(material: &Material) -> Part {
    let codes: Vec<_> = material.children.iter().map(ChildCode::as_str).collect();
    let children: Vec<_> = codes.iter().map(|code| (*code, *code)).collect();
    let mut further = vec![
        Line::one(
            "attempts",
            "A word said more than once",
            &[("first", "The first try counts"), ("last", "The last try counts"), ("all", "Every try is heard")],
        ),
        Line::number("sample-sessions", "Sessions to draw of each child and phase", "")
            .hint("Empty: all. The seal draws them, so nobody chooses a good day."),
        Line::number("sample-words", "Words to draw of each session", "")
            .hint("Empty: all. A child's sessions share as many drawn words as they can; treated and untreated words come in turn."),
    ];
    if material.earlier > 0 {
        further.push(Line::tick("only-new", "Play only what no earlier round played").hint(
            "Some earlier words are then heard again as links, so that both rounds stand on one scale.",
        ));
        further.push(
            Line::number("links", "Links, beside the new words", "%").hint(if material.unlocked {
                "Drawn over the whole range of quality. Nobody is told which they are."
            } else {
                "Links need an unlocked round. None is yet: write 0."
            }),
        );
    }
    Part {
        title: "The round and its words",
        lead: format!(
            "The study has {} of {}.",
            counted(material.scored() as usize, "word"),
            counted(material.children.len(), "child").replace("childs", "children"),
        ),
        lines: vec![
            Line::words("round", "Name of the round")
                .hint("Short, such as spring. Listeners do not see it."),
            Line::several("children", "Children", &children)
                .hint("None ticked: all of them, peers too."),
            Line::several("phases", "Phases", &phase_choices(&material.phases))
                .hint("None ticked: all of them."),
        ],
        more: "Tries and draws",
        further,
    }
}

fn listeners() -> Part {
    Part {
        title: "Listeners",
        lead: String::new(),
        lines: vec![
            Line::one("kind", "Who listens", &[("naive", "Naive listeners"), ("expert", "Experts")]),
            Line::number("judgements", "Judgements of each word", "")
                .hint("By as many different listeners. Nine naive ones or three experts are usual here."),
            Line::number("invited", "Personal links", "")
                .hint("Some people do not come: give more links than the forecast asks for."),
        ],
        more: "Open link, several sittings, bars",
        further: vec![
            Line::number("open", "Listeners who may come by one open link", "").hint("Empty: no open link."),
            Line::number("link-days", "Days in which a link must be opened", "days").hint("Empty: as long as the round is open."),
            Line::number("sittings", "Sittings that one listener may do", "").hint("She hears no word in two of them."),
            Line::words("bars", "Listeners who must not hear a child")
                .hint("The number of the personal link and the child's code: 3 C01, 5 C02. Who treats a child, or knows her voice, must not judge her."),
        ],
    }
}

fn sitting(material: &Material) -> Part {
    let has = |use_: Use| format!("The study has {}.", material.of(use_));
    Part {
        title: "One sitting",
        lead: String::new(),
        lines: vec![
            Line::number("tokens", "Words to judge in a sitting", ""),
            Line::number("repeats", "Words heard again", "%")
                .hint("They show whether a listener agrees with herself. 10 to 20% are usual."),
            Line::number("checks", "Check words", "")
                .hint(format!("Their answer is known. {}", has(Use::Check))),
            Line::number("practice", "Practice words", "").hint(format!(
                "Heard first, with feedback. {}",
                has(Use::Practice)
            )),
        ],
        more: "Warm-up, replays, the page",
        further: vec![
            Line::number(
                "repeat-distance",
                "Places between a word and its repeat",
                "",
            )
            .hint("At least so many."),
            Line::number("warm-up", "Warm-up words", "")
                .hint(format!("Unscored, without feedback. {}", has(Use::WarmUp))),
            Line::number("replays", "Replays of a word", ""),
            Line::tick(
                "may-change",
                "An answer may be changed until the next word sounds",
            ),
            Line::tick("show-word", "The word is shown"),
            Line::number(
                "give-back",
                "Idle time after which the words go to others",
                "min",
            ),
        ],
    }
}

const CHECKS: &[(&str, &str)] = &[
    ("off", "Not made"),
    ("record", "Made and recorded"),
    ("require", "Must be passed"),
];

fn course() -> Part {
    Part {
        title: "Practice, rests and sound",
        lead: String::new(),
        lines: vec![
            Line::number("practice-pass", "Practice words to be heard as they are known", "%").hint("0: practice need not be passed."),
            Line::number("rest-every", "Words from one rest to the next", "").hint("0: no rests."),
        ],
        more: "Tries, days, sound check, questions",
        further: vec![
            Line::number("practice-tries", "Tries at the practice", ""),
            Line::one("practice-failed", "Who does not pass", &[("go-on", "Goes on; the screening rules decide"), ("let-go", "Is thanked and hears no word")]),
            Line::number("practice-again", "Hours after which practice comes once more", "h"),
            Line::number("words-a-day", "Words on one day, at most", "").hint("0: no limit."),
            Line::number("minutes-a-day", "Minutes of judging on one day, at most", "min").hint("0: no limit."),
            Line::one("first-sound", "Check that the beginnings of sounds come through", CHECKS),
            Line::one("headphones", "Check for headphones", CHECKS).hint("It is wrong for about one listener in five."),
            Line::several("ask", "Questions to a listener", &[
                ("first-language", "First language"),
                ("age", "Age, in bands"),
                ("hearing", "Hearing"),
                ("experience", "Experience with children's speech"),
                ("acquaintance", "Whether she may know speakers"),
            ]),
            Line::paragraphs("own-questions", "Questions of your own")
                .hint("One a line: name | question | answer | answer. For example: region | Where did you grow up? | On the coast | Inland"),
        ],
    }
}

fn compared(material: &Material) -> Part {
    let mut further = contrast::further();
    further.push(Line::number("confidence", "Level of every interval", "%"));
    further.push(Line::number("seed", "Seed of everything resampled", ""));
    further.push(
        Line::tick(
            "masked-analysis",
            "Unnamed graphs are judged before unlocking",
        )
        .hint(
            "A masked visual analysis by somebody who neither recorded nor treated the children.",
        ),
    );
    Part {
        title: "What is compared",
        lead: "Sealed before anybody listens, so that no comparison is picked afterwards."
            .to_owned(),
        lines: contrast::lines(&material.phases),
        more: "Sessions, words, intervals, masked analysis",
        further,
    }
}

fn screening(material: &Material) -> Part {
    let checks = material.of(Use::Check) > 0;
    Part {
        title: "Which listeners are kept",
        lead: if checks {
            "An empty rule does not apply. No rule may look at a child or a phase.".to_owned()
        } else {
            "The study has no check words: only repeats and speed can tell a guesser. Import check words with known answers to do better.".to_owned()
        },
        lines: vec![
            Line::number(
                "rule-checks-right",
                "Check words judged as known, at least",
                "",
            ),
            Line::number("rule-repeats", "Repeats judged as before, at least", "%"),
            Line::number("rule-median-time", "Middle response time, at least", "ms"),
        ],
        more: "Further rules, and when they act",
        further: vec![
            Line::number(
                "rule-check-accuracy",
                "Check words judged as known, as a share, at least",
                "%",
            ),
            Line::number("rule-one-answer", "One and the same answer, at most", "%"),
            Line::number(
                "rule-rest-of-panel",
                "Agreement with the other listeners, at least",
                "%",
            ),
            Line::number(
                "rule-too-fast",
                "Answers that are too fast come within",
                "ms",
            ),
            Line::number("rule-too-fast-share", "Of those, at most", "%"),
            Line::number("rule-judgements", "Judgements, at least", ""),
            Line::number(
                "careful",
                "A careful listener judges check words as known in",
                "%",
            )
            .hint("For the chance that a rule wrongly leaves her out."),
            Line::tick("live", "The rules act while a listener judges")
                .hint("Who can no longer pass is thanked, and her words go to others."),
            Line::number(
                "live-after",
                "Check words that she must have judged before",
                "",
            )
            .hint("Empty: half of those in a sitting."),
        ],
    }
}

fn texts(material: &Material) -> Part {
    let mut lines = vec![
        Line::paragraphs("text-consent", "What a listener agrees to")
            .hint("The text that your ethics board has seen. A blank line begins a new paragraph."),
        Line::words("text-consent-version", "Version of the consent"),
        Line::paragraphs("text-instruction", "What to judge")
            .hint("The sound, how it should be, and what to leave out of account."),
    ];
    if material.targets.len() > 1 {
        for (number, target) in material.targets.iter().enumerate() {
            let called = if target.is_empty() { "(none)" } else { target };
            lines.push(Line::words(
                format!("text-target-{number}-name"),
                format!("Sound {called}, as listeners are told it"),
            ));
            lines.push(Line::paragraphs(
                format!("text-target-{number}-instruction"),
                format!("What to judge of sound {called}"),
            ));
        }
    }
    Part {
        title: "What listeners read",
        lead: "Name no child and no phase here: every listener reads it.".to_owned(),
        lines,
        more: "Assent, payment, answers, thanks",
        further: vec![
            Line::paragraphs("text-assent", "What someone under age agrees to")
                .hint("Empty: nobody is asked for her age."),
            Line::paragraphs(
                "text-payment",
                "What it means for a payment that a sitting ends early",
            )
            .hint("Empty: there is no payment."),
            Line::words("text-correct", "The answer ‘correct’ in your words"),
            Line::words("text-distorted", "The answer ‘distorted’ in your words"),
            Line::paragraphs("text-thanks", "What stands above the receipt at the end"),
        ],
    }
}
