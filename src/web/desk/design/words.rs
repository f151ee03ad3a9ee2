//! A plan in plain words: what is sealed, for whoever reads it before the seal or gets the seal sheet.

use crate::report::number::counted;
use crate::report::number::percent_1;
use crate::study::ChildCode;
use crate::study::ListenerKind;
use crate::study::Phase;
use crate::study::Plan;
use crate::study::Share;
use crate::study::course::Check;
use crate::study::course::Failed;
use crate::study::plan::Attempts;
use crate::study::plan::WordSet;

/// Sentences that belong together, under a title.
pub(in crate::web::desk) struct Chapter {
    /// What they are about.
    pub(in crate::web::desk) title: &'static str,
    /// The sentences.
    pub(in crate::web::desk) says: Vec<String>,
    /// Texts that listeners read, each with what it is.
    pub(in crate::web::desk) texts: Vec<(&'static str, String)>,
}

/// Who reads the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::web::desk) enum Reader {
    /// Staff at the desk: children are named by their codes.
    Desk,
    /// Whoever holds the seal sheet: children are counted, not named.
    Elsewhere,
}

/// The whole plan.
pub(in crate::web::desk) fn chapters(plan: &Plan, reader: Reader) -> Vec<Chapter> {
    vec![
        chapter("Words", words(plan, reader)),
        chapter("Listeners", listeners(plan, reader)),
        chapter("A sitting", sitting(plan)),
        chapter("Practice, rests and sound", course(plan)),
        chapter("What is compared", contrast(plan)),
        chapter("Which listeners are kept", screening(plan)),
        Chapter {
            title: "What listeners read",
            says: vec![format!(
                "Version {} of the consent.",
                plan.texts.consent_version
            )],
            texts: texts(plan),
        },
    ]
}

const fn chapter(title: &'static str, says: Vec<String>) -> Chapter {
    Chapter {
        title,
        says,
        texts: Vec::new(),
    }
}

fn share(share: Share) -> String {
    percent_1(Some(share.get())).replace(".0%", "%")
}

fn words(plan: &Plan, reader: Reader) -> Vec<String> {
    let choice = &plan.tokens;
    let children: Vec<_> = choice.children.iter().map(ChildCode::as_str).collect();
    let phases: Vec<_> = choice.phases.iter().map(Phase::as_str).collect();
    let mut says = vec![match (children.as_slice(), reader) {
        ([], _) => "Words of all children and peers.".to_owned(),
        (some, Reader::Desk) => format!("Words of {} alone.", some.join(", ")),
        (some, Reader::Elsewhere) => format!(
            "Words of {} children and peers, whom the seal holds as a salted commitment.",
            some.len()
        ),
    }];
    says.push(if phases.is_empty() {
        "All phases.".to_owned()
    } else {
        format!("The phases {} alone.", phases.join(", "))
    });
    says.push(
        match choice.attempts {
            Attempts::First => "Where a word was said more than once, the first try counts.",
            Attempts::Last => "Where a word was said more than once, the last try counts.",
            Attempts::All => "Every try at a word is heard.",
        }
        .to_owned(),
    );
    if let Some(sessions) = choice.sample_sessions {
        says.push(format!(
            "Of each child in each phase {} at most, drawn by the act of sealing.",
            counted(sessions as usize, "session")
        ));
    }
    if let Some(words) = choice.sample_words {
        says.push(format!(
            "Of each session {} at most, drawn by the act of sealing in one order a child.",
            counted(words as usize, "word")
        ));
    }
    if choice.only_new {
        says.push(format!("Only words that no earlier round played. Beside them, {} as many earlier words as links.", share(choice.links)));
    }
    says
}

fn listeners(plan: &Plan, reader: Reader) -> Vec<String> {
    let listeners = &plan.listeners;
    let kind = match listeners.kind {
        ListenerKind::Naive => "naive listeners",
        ListenerKind::Expert => "experts",
    };
    let mut says = vec![format!(
        "{} of each word, by as many different {kind}.",
        counted(listeners.judgements_per_token as usize, "judgement"),
    )];
    says.push(format!(
        "{}.",
        counted(listeners.invited as usize, "personal link")
    ));
    if listeners.open > 0 {
        says.push(format!(
            "One open link for {}.",
            counted(listeners.open as usize, "listener")
        ));
    }
    says.push(match listeners.link_days {
        Some(days) => format!(
            "A link must be opened within {}.",
            counted(days as usize, "day")
        ),
        None => "Links hold as long as the round is open.".to_owned(),
    });
    says.push(match listeners.sittings {
        1 => "A listener does one sitting.".to_owned(),
        n => format!("A listener may do {n} sittings; she judges no word in two of them."),
    });
    match (listeners.bars.len(), reader) {
        (0, _) => says.push("Nobody is barred from a child.".to_owned()),
        (_, Reader::Desk) => {
            let bars = listeners.bars.iter();
            says.extend(bars.map(|bar| format!("Listener {} never hears {}.", bar.listener, bar.child)));
        }
        (n, Reader::Elsewhere) => says.push(format!(
            "Bars that keep a listener from a child: {n}, which the seal holds as a salted commitment."
        )),
    }
    if listeners.simulated {
        says.push("The panel is simulated: a program answers.".to_owned());
    }
    says
}

fn sitting(plan: &Plan) -> Vec<String> {
    let sitting = &plan.sitting;
    let mut says = vec![
        format!(
            "{} to judge at most, {} of them heard again, at least {} later.",
            counted(sitting.tokens as usize, "word"),
            share(sitting.repeats),
            counted(sitting.repeat_distance as usize, "place")
        ),
        format!(
            "{}, {} and {}.",
            counted(sitting.checks as usize, "check word"),
            counted(sitting.practice as usize, "practice word"),
            counted(sitting.warm_up as usize, "warm-up word")
        ),
        match sitting.replays {
            0 => "No word may be played again.".to_owned(),
            1 => "A word may be played again once.".to_owned(),
            n => format!("A word may be played again {n} times."),
        },
    ];
    says.push(if sitting.may_change {
        "An answer may be changed until the next word sounds.".to_owned()
    } else {
        "An answer may not be changed.".to_owned()
    });
    says.push(
        if sitting.show_word {
            "The word is shown."
        } else {
            "The word is not shown."
        }
        .to_owned(),
    );
    says.push(format!(
        "After {} without an answer the words go to others.",
        counted(sitting.give_back_minutes as usize, "minute")
    ));
    says
}

fn course(plan: &Plan) -> Vec<String> {
    let practice = &plan.practice;
    let rests = &plan.rests;
    let mut says = Vec::new();
    if practice.pass.get() > 0.0 {
        says.push(format!(
            "Practice is passed with {} heard as they are known, in {} at most; who does not pass {}. It comes once more after {} without an answer.",
            share(practice.pass),
            counted(practice.tries as usize, "try").replace("trys", "tries"),
            match practice.failed { Failed::GoOn => "goes on", Failed::LetGo => "is thanked and hears no word" },
            counted(practice.again_hours as usize, "hour"),
        ));
    } else {
        says.push("Practice need not be passed.".to_owned());
    }
    says.push(match rests.every {
        0 => "No rests.".to_owned(),
        every => format!("A rest after every {}.", counted(every as usize, "word")),
    });
    if rests.words_a_day > 0 {
        says.push(format!(
            "{} on one day at most.",
            counted(rests.words_a_day as usize, "word")
        ));
    }
    if rests.minutes_a_day > 0 {
        says.push(format!(
            "{} of judging on one day at most.",
            counted(rests.minutes_a_day as usize, "minute")
        ));
    }
    says.push(format!(
        "Check that beginnings of sounds come through: {}. Check for headphones: {}.",
        check(plan.sound_check.first_sound),
        check(plan.sound_check.headphones)
    ));
    let asked: Vec<_> = plan
        .questions
        .asked()
        .into_iter()
        .map(|(name, _)| name.to_owned())
        .collect();
    says.push(if asked.is_empty() {
        "Listeners are asked nothing of themselves.".to_owned()
    } else {
        format!("Listeners are asked: {}.", asked.join(", "))
    });
    for target in &plan.targets {
        says.push(format!(
            "Sound {}, told as “{}”, has a part of each sitting.",
            target.target, target.name
        ));
    }
    says
}

const fn check(check: Check) -> &'static str {
    match check {
        Check::Off => "not made",
        Check::Record => "recorded",
        Check::Require => "must be passed",
    }
}

fn contrast(plan: &Plan) -> Vec<String> {
    let contrast = &plan.contrast;
    let last = contrast.last.map(|last| {
        format!(
            ", of which its last {} only",
            counted(last as usize, "session")
        )
    });
    let words = match contrast.words {
        WordSet::All => "all words",
        WordSet::Treated => "words practised in treatment",
        WordSet::Untreated => "words never practised",
    };
    let mut says = vec![
        format!(
            "{} against {}{}.",
            contrast.from,
            contrast.to,
            last.unwrap_or_default()
        ),
        format!("The verdict rests on {words}."),
        format!(
            "The smallest change that matters is {} points.",
            share(contrast.smallest_change).trim_end_matches('%')
        ),
        format!(
            "Intervals are at {}; the seed of everything resampled is {}.",
            percent_1(Some(plan.analysis.confidence.level())).replace(".0%", "%"),
            plan.analysis.seed
        ),
    ];
    if plan.masked_analysis.planned {
        says.push("Unnamed graphs are judged between the close and unlocking.".to_owned());
    }
    says
}

fn screening(plan: &Plan) -> Vec<String> {
    let rules = crate::app::planning::rules_in_words(plan);
    let mut says: Vec<_> = (1..)
        .zip(&rules)
        .map(|(number, rule)| format!("Rule {number}: {rule}."))
        .collect();
    if rules.is_empty() {
        says.push("Every listener is kept.".to_owned());
        return says;
    }
    says.push(match plan.clone().settled().screening.live_after() {
        Some(after) => format!(
            "The rules act while a listener judges, after {}.",
            counted(after as usize, "check word")
        ),
        None => "The rules act once the round is closed.".to_owned(),
    });
    says.push(format!(
        "A careful listener is one who judges {} of check words as known.",
        share(plan.screening.careful_accuracy)
    ));
    says
}

fn texts(plan: &Plan) -> Vec<(&'static str, String)> {
    let texts = &plan.texts;
    let all = [
        ("Consent", Some(&texts.consent)),
        ("Assent", texts.assent.as_ref()),
        ("Payment", texts.payment.as_ref()),
        ("What to judge", Some(&texts.instruction)),
        ("The answer ‘correct’", texts.correct.as_ref()),
        ("The answer ‘distorted’", texts.distorted.as_ref()),
        ("Thanks", texts.thanks.as_ref()),
    ];
    let targets = plan
        .targets
        .iter()
        .map(|target| ("What to judge of one sound", target.instruction.clone()));
    all.into_iter()
        .filter_map(|(what, text)| Some((what, text?.clone())))
        .chain(targets)
        .collect()
}
