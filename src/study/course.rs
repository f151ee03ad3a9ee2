//! What leads a listener through a sitting, as the plan fixes it: questions, sound check, practice,
//! rests, and the sounds to judge where there are several.

use std::collections::BTreeSet;

use super::Invalid;
use super::Share;

/// What a listener may always say instead of an answer.
pub const NOT_SAID: &str = "not-said";

/// The answer about her age of who is not of age.
pub const UNDER_AGE: &str = "under-18";

/// The most choices of a question of the study's own.
const MOST_CHOICES: usize = 12;

/// The questions before the sound check; each is asked once, whatever comes later.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Questions {
    /// Which of the page's own questions are asked, in this order.
    #[serde(default)]
    pub ask: Vec<Question>,
    /// Questions of the study's own, after those.
    #[serde(default)]
    pub own: Vec<OwnQuestion>,
}

/// A question that the page can ask in every language. None takes free text.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Question {
    /// Which language she grew up with.
    FirstLanguage,
    /// Her age, in bands.
    Age,
    /// Her hearing, by her own account.
    Hearing,
    /// How much she has to do with children's speech.
    Experience,
    /// Whether she may know speakers or staff; who is in therapy is not told.
    Acquaintance,
}

impl Question {
    /// Its name in the form, the store and the export.
    pub const fn name(self) -> &'static str {
        match self {
            Self::FirstLanguage => "first-language",
            Self::Age => "age",
            Self::Hearing => "hearing",
            Self::Experience => "experience",
            Self::Acquaintance => "acquaintance",
        }
    }

    /// The answers, as they are kept, beside [`NOT_SAID`].
    pub const fn choices(self) -> &'static [&'static str] {
        match self {
            Self::FirstLanguage => &["of-the-page", "several", "another"],
            Self::Age => &[UNDER_AGE, "18-29", "30-44", "45-59", "60-74", "75-or-over"],
            Self::Hearing => &["no-difficulty", "some-difficulty", "aid-or-implant"],
            Self::Experience => &["none", "own-children", "work", "profession"],
            Self::Acquaintance => &["no", "perhaps", "yes"],
        }
    }

    /// Every question of the page.
    pub const ALL: [Self; 5] = [
        Self::FirstLanguage,
        Self::Age,
        Self::Hearing,
        Self::Experience,
        Self::Acquaintance,
    ];
}

/// A question of the study's own: one choice of several.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnQuestion {
    /// Its name in the export: small letters, digits and hyphens.
    pub name: String,
    /// The question as the listener reads it.
    pub ask: String,
    /// The answers to choose from; "I would rather not say" is added by the page.
    pub choices: Vec<String>,
}

impl Questions {
    /// Whether nothing is asked.
    pub const fn is_empty(&self) -> bool {
        self.ask.is_empty() && self.own.is_empty()
    }

    /// Every question's name with its answers, in the order of asking.
    pub fn asked(&self) -> Vec<(&str, Vec<&str>)> {
        let of_the_page = self
            .ask
            .iter()
            .map(|question| (question.name(), question.choices().to_vec()));
        let own = self.own.iter().map(|question| {
            let choices = question.choices.iter().map(String::as_str).collect();
            (question.name.as_str(), choices)
        });
        of_the_page.chain(own).collect()
    }

    pub(super) fn check(&self) -> Result<(), Invalid> {
        let mut names = BTreeSet::new();
        for (name, _) in self.asked() {
            if !names.insert(name) {
                return Err(Invalid::new(
                    format!("the question `{name}` is asked twice"),
                    "ask it once",
                ));
            }
        }
        let of_the_page = Question::ALL.map(Question::name);
        for question in &self.own {
            question.check()?;
            if of_the_page.contains(&question.name.as_str()) {
                return Err(Invalid::new(
                    format!("`{}` is the name of a question of the page", question.name),
                    "add it to `questions.ask`, or choose another name",
                ));
            }
        }
        Ok(())
    }
}

impl OwnQuestion {
    fn check(&self) -> Result<(), Invalid> {
        let name = &self.name;
        let plain = |sign: char| sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '-';
        if name.is_empty() || name.len() > 40 || !name.chars().all(plain) {
            return Err(Invalid::new(
                format!("`{name}` is no name for a question"),
                "use 1 to 40 small letters, digits and hyphens",
            ));
        }
        if self.ask.trim().is_empty() {
            return Err(Invalid::new(
                format!("the question `{name}` asks nothing"),
                "write in `ask` what the listener reads",
            ));
        }
        let different: BTreeSet<_> = self.choices.iter().map(|choice| choice.trim()).collect();
        let bad = different.contains("") || different.contains(NOT_SAID);
        if bad || different.len() != self.choices.len() {
            return Err(Invalid::new(
                format!("a choice of the question `{name}` is empty, doubled or `{NOT_SAID}`"),
                "write each choice once; \"I would rather not say\" is added by the page",
            ));
        }
        if !(2..=MOST_CHOICES).contains(&self.choices.len()) {
            return Err(Invalid::new(
                format!("the question `{name}` has {} choices", self.choices.len()),
                format!("give 2 to {MOST_CHOICES}"),
            ));
        }
        Ok(())
    }
}

/// What is checked of a listener's sound, and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SoundChecks {
    /// Whether the first moment of a sound comes through: outputs that sleep or are wireless can
    /// swallow it.
    #[serde(default = "record")]
    pub first_sound: Check,
    /// Whether headphones are worn, by tones that loudspeakers cancel. Wrong for about one in five.
    #[serde(default)]
    pub headphones: Check,
}

impl Default for SoundChecks {
    fn default() -> Self {
        Self {
            first_sound: Check::Record,
            headphones: Check::Off,
        }
    }
}

/// What becomes of a check.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Check {
    /// It is not made.
    #[default]
    Off,
    /// Its result is kept, and nobody is left out for it.
    Record,
    /// Whoever does not pass is thanked and hears no word of the round.
    Require,
}

/// Whether and when practice is enough.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// The share of practice words with a known answer that must be heard as they are known.
    #[serde(default = "usual_pass")]
    pub pass: Share,
    /// How often the practice may be done.
    #[serde(default = "usual_tries")]
    pub tries: u32,
    /// What comes when it was not passed so often.
    #[serde(default)]
    pub failed: Failed,
    /// Hours without an answer after which the practice comes once more.
    #[serde(default = "usual_again_hours")]
    pub again_hours: u32,
}

impl Default for Practice {
    fn default() -> Self {
        Self {
            pass: usual_pass(),
            tries: usual_tries(),
            failed: Failed::GoOn,
            again_hours: usual_again_hours(),
        }
    }
}

/// What comes when the practice was not passed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Failed {
    /// The sitting goes on: the screening rules decide, as for everybody.
    #[default]
    GoOn,
    /// The listener is thanked, and her words go to others.
    LetGo,
}

/// Rests, and how much is heard on one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rests {
    /// Words from one rest to the next; 0: no rests.
    #[serde(default = "usual_rest")]
    pub every: u32,
    /// Words that a listener answers on one day; 0: as many as there are.
    #[serde(default)]
    pub words_a_day: u32,
    /// Minutes that a listener judges on one day; 0: as many as it takes.
    #[serde(default = "usual_minutes_a_day")]
    pub minutes_a_day: u32,
}

impl Default for Rests {
    fn default() -> Self {
        Self {
            every: usual_rest(),
            words_a_day: 0,
            minutes_a_day: usual_minutes_a_day(),
        }
    }
}

/// One of several sounds to judge. Each has its own part of a sitting.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Target {
    /// The sound as the manifest's column `target` writes it. No listener reads this.
    pub target: String,
    /// The sound as listeners are told it: "the s sound".
    pub name: String,
    /// What to judge of it, and what to leave out of account.
    pub instruction: String,
}

/// What is wrong with the sounds to judge.
pub(super) fn check_targets(targets: &[Target]) -> Result<(), Invalid> {
    let mut seen = BTreeSet::new();
    for target in targets {
        if !seen.insert(&target.target) {
            return Err(Invalid::new(
                format!("the target `{}` stands twice in `targets`", target.target),
                "write it once",
            ));
        }
        if target.name.trim().is_empty() || target.instruction.trim().is_empty() {
            return Err(Invalid::new(
                format!(
                    "the target `{}` has no name or no instruction",
                    target.target
                ),
                "write in `name` and `instruction` what listeners are told",
            ));
        }
    }
    if targets.len() == 1 {
        return Err(Invalid::new(
            "`targets` holds one sound",
            "leave it out: one sound is told by `study.toml` and `texts.instruction`",
        ));
    }
    Ok(())
}

const fn record() -> Check {
    Check::Record
}

/// Three of four (ours): the training must be understood, and nobody is tested there.
const fn usual_pass() -> Share {
    Share::THREE_OF_FOUR
}

/// Three times (ours).
const fn usual_tries() -> u32 {
    3
}

/// A day (ours).
const fn usual_again_hours() -> u32 {
    24
}

/// Fifty words (ours): about five minutes of listening.
const fn usual_rest() -> u32 {
    50
}

/// 45 minutes, which listening tests of speech do not exceed (ITU-T P.800, from memory).
const fn usual_minutes_a_day() -> u32 {
    45
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(name: &str, choices: &[&str]) -> Questions {
        Questions {
            ask: vec![Question::Age],
            own: vec![OwnQuestion {
                name: name.to_owned(),
                ask: "Where did you grow up?".to_owned(),
                choices: choices.iter().map(|choice| (*choice).to_owned()).collect(),
            }],
        }
    }

    #[test]
    fn a_question_of_ones_own_has_a_plain_name_and_different_choices() {
        assert!(own("region", &["On the coast", "Inland"]).check().is_ok());
        for (name, choices) in [
            ("Region", &["a", "b"][..]),
            ("", &["a", "b"]),
            ("age", &["a", "b"]),
            ("region", &["a"]),
            ("region", &["a", "a "]),
            ("region", &["a", ""]),
            ("region", &["a", "not-said"]),
        ] {
            assert!(own(name, choices).check().is_err(), "{name} {choices:?}");
        }
    }

    #[test]
    fn no_question_is_asked_twice() {
        let twice = Questions {
            ask: vec![Question::Age, Question::Hearing, Question::Age],
            own: Vec::new(),
        };
        let refusal = twice.check().unwrap_err().to_string();
        assert_eq!(refusal, "the question `age` is asked twice; ask it once");
    }

    #[test]
    fn one_sound_needs_no_list() {
        let target = |target: &str| Target {
            target: target.to_owned(),
            name: "the s sound".to_owned(),
            instruction: "Judge it.".to_owned(),
        };
        assert!(check_targets(&[]).is_ok());
        assert!(check_targets(&[target("s")]).is_err());
        assert!(check_targets(&[target("s"), target("r")]).is_ok());
        assert!(check_targets(&[target("s"), target("s")]).is_err());
    }
}
