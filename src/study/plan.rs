//! The plan of a round: all that is fixed before the first listener, and sealed.

use super::ChildCode;
use super::Confidence;
use super::Invalid;
use super::ListenerKind;
use super::Phase;
use super::RoundName;
use super::Share;
use super::course;
use super::course::Practice;
use super::course::Questions;
use super::course::Rests;
use super::course::SoundChecks;
use super::course::Target;

pub use super::token_choice::Attempts;
pub use super::token_choice::TokenChoice;

/// The plan of one round, as `plan.toml` gives it and the seal holds it.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The round's name, unique in its study.
    pub round: RoundName,
    /// Which tokens are heard.
    #[serde(default)]
    pub tokens: TokenChoice,
    /// Who listens, and how many judgements are wanted.
    pub listeners: Listeners,
    /// What one sitting is made of.
    pub sitting: Sitting,
    /// Whether and when practice is enough.
    #[serde(default)]
    pub practice: Practice,
    /// Rests, and how much is heard on one day.
    #[serde(default)]
    pub rests: Rests,
    /// What is checked of a listener's sound.
    #[serde(default)]
    pub sound_check: SoundChecks,
    /// What a listener is asked of herself before the sound check.
    #[serde(default)]
    pub questions: Questions,
    /// The sounds to judge where there are several; none: the study's one.
    #[serde(default)]
    pub targets: Vec<Target>,
    /// What is compared with what.
    pub contrast: Contrast,
    /// Which listeners are kept, by rules fixed now.
    pub screening: Screening,
    /// How the figures are computed.
    #[serde(default)]
    pub analysis: Analysis,
    /// Whether graphs are to be judged masked, between close and unlocking; absent: no.
    #[serde(default, skip_serializing_if = "MaskedAnalysis::is_unplanned")]
    pub masked_analysis: MaskedAnalysis,
    /// The study's own words on the listener's page.
    pub texts: Texts,
}

/// Who listens, and how many judgements are wanted.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Listeners {
    /// How many personal links are made.
    pub invited: u32,
    /// How many listeners may come by one open link, which is made beside the personal ones; 0: none.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub open: u32,
    /// Days after the seal in which a link must be used for the first time; absent: as long as the
    /// round is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub link_days: Option<u32>,
    /// Naive or expert.
    #[serde(default = "naive")]
    pub kind: ListenerKind,
    /// Judgements wanted of each token.
    pub judgements_per_token: u32,
    /// Whether the panel is simulated, for a demonstration: every page and file then says so.
    #[serde(default, skip_serializing_if = "is_false")]
    pub simulated: bool,
    /// Sittings one listener may do.
    #[serde(default = "one")]
    pub sittings: u32,
    /// Listeners who must never hear a child (they treat her).
    #[serde(default)]
    pub bars: Vec<Bar>,
}

/// A listener who must not hear a child.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bar {
    /// The number of the listener's link, counted from 1.
    pub listener: u32,
    /// The child.
    pub child: ChildCode,
}

/// What one sitting is made of.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sitting {
    /// Main presentations in a sitting (fewer when fewer are still needed).
    pub tokens: u32,
    /// Repeats as a share of the main presentations.
    #[serde(default = "usual_repeats")]
    pub repeats: Share,
    /// Places between a token and its repeat, at least.
    #[serde(default = "usual_distance")]
    pub repeat_distance: u32,
    /// Check presentations.
    #[serde(default)]
    pub checks: u32,
    /// Practice presentations, with feedback.
    #[serde(default)]
    pub practice: u32,
    /// Warm-up presentations, unscored and without feedback.
    #[serde(default)]
    pub warm_up: u32,
    /// How often a word may be played again.
    #[serde(default = "one")]
    pub replays: u32,
    /// Whether an answer may be changed until the next word sounds.
    #[serde(default = "yes")]
    pub may_change: bool,
    /// Whether the word is shown.
    #[serde(default = "yes")]
    pub show_word: bool,
    /// Minutes without an answer after which the places go back.
    #[serde(default = "usual_give_back")]
    pub give_back_minutes: u32,
}

/// What is compared with what, sealed before listening.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contrast {
    /// The earlier phase.
    pub from: Phase,
    /// The later phase.
    pub to: Phase,
    /// Of the later phase only its last sessions, this many; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last: Option<u32>,
    /// Which words the verdict rests on.
    #[serde(default)]
    pub words: WordSet,
    /// The smallest change that matters, as a share of 1 (ours: 0.15).
    #[serde(default = "usual_smallest_change")]
    pub smallest_change: Share,
}

impl Contrast {
    /// How sure the place of a round beside earlier ones has to be: half of the smallest change that matters (ours).
    pub fn linking_bound(&self) -> f64 {
        self.smallest_change.get() / 2.0
    }
}

/// Which words a figure rests on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum WordSet {
    /// All of them.
    #[default]
    All,
    /// Those practised in treatment.
    Treated,
    /// Those never practised.
    Untreated,
}

impl std::str::FromStr for WordSet {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        match raw.trim() {
            "all" => Ok(Self::All),
            "treated" => Ok(Self::Treated),
            "untreated" => Ok(Self::Untreated),
            _ => Err(Invalid::new(
                format!("`{raw}` is no set of words"),
                "write all, treated or untreated",
            )),
        }
    }
}

/// The screening rules, applied in their order; an empty list keeps every listener.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Screening {
    /// The accuracy of a careful listener on check tokens, for the chance that a rule wrongly
    /// leaves her out.
    #[serde(default = "usual_careful_accuracy")]
    pub careful_accuracy: Share,
    /// The rules as data; what a rule means stands with the statistics of listeners.
    pub rules: Vec<serde_json::Value>,
    /// Whether the rules also act while a listener judges: whoever can no longer meet one of speed,
    /// one-sidedness, checks or repeats hears no more. A round sealed without it: no.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub live: Option<bool>,
    /// Checks that she must have judged before; absent in the file: half of those in a sitting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub live_after_checks: Option<u32>,
}

impl Screening {
    /// After how many checks the rules act while a listener judges; `None`: never.
    pub fn live_after(&self) -> Option<u32> {
        self.live
            .unwrap_or(false)
            .then(|| self.live_after_checks.unwrap_or(0))
    }
}

/// How the figures are computed.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Analysis {
    /// The level of every interval.
    #[serde(default = "ninety_five")]
    pub confidence: Confidence,
    /// The seed of everything resampled.
    #[serde(default = "usual_seed")]
    pub seed: u64,
}

impl Default for Analysis {
    fn default() -> Self {
        Self {
            confidence: ninety_five(),
            seed: usual_seed(),
        }
    }
}

/// Whether an analyst is to judge unnamed graphs before the round is unlocked.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MaskedAnalysis {
    /// Done without being planned, or left out although planned, it is a deviation.
    pub planned: bool,
}

impl MaskedAnalysis {
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "the signature that serde asks for"
    )]
    const fn is_unplanned(&self) -> bool {
        !self.planned
    }
}

/// The study's own words on the listener's page. Plain text; blank lines divide paragraphs.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Texts {
    /// Which version of the consent text this is, as the ethics board knows it.
    pub consent_version: String,
    /// What a listener agrees to.
    pub consent: String,
    /// What someone under age agrees to, with a parent or guardian; absent: nobody is asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assent: Option<String>,
    /// What it means for a payment that a sitting ends early; absent: there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub payment: Option<String>,
    /// What to judge: the sound, how it should be, and what to leave out of account.
    pub instruction: String,
    /// The button for 'correct'; absent: the page's own word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correct: Option<String>,
    /// The button for 'distorted'; absent: the page's own word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distorted: Option<String>,
    /// What stands above the receipt at the end; absent: the page's own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thanks: Option<String>,
}

impl Texts {
    fn check(&self) -> Result<(), Invalid> {
        for (field, text) in [
            ("texts.consent", Some(&self.consent)),
            ("texts.consent_version", Some(&self.consent_version)),
            ("texts.instruction", Some(&self.instruction)),
            ("texts.assent", self.assent.as_ref()),
            ("texts.payment", self.payment.as_ref()),
        ] {
            if text.is_some_and(|text| text.trim().is_empty()) {
                return Err(Invalid::new(
                    format!("`{field}` is empty"),
                    "listeners must be told what they agree to and what to judge",
                ));
            }
        }
        Ok(())
    }
}

impl Plan {
    /// What is wrong with the plan by itself, before any token is looked at.
    ///
    /// # Errors
    /// [`Invalid`] for a count of nothing where something is needed, for phases that are the same
    /// on both sides, for an empty consent or instruction, and for questions or targets that
    /// contradict themselves.
    pub fn check(&self) -> Result<(), Invalid> {
        let at_least_one = [
            (
                "listeners.judgements_per_token",
                self.listeners.judgements_per_token,
            ),
            ("listeners.sittings", self.listeners.sittings),
            ("sitting.tokens", self.sitting.tokens),
            ("sitting.give_back_minutes", self.sitting.give_back_minutes),
            ("practice.tries", self.practice.tries),
            ("practice.again_hours", self.practice.again_hours),
        ];
        for (field, value) in at_least_one {
            if value == 0 {
                return Err(Invalid::new(format!("`{field}` is 0"), "give at least 1"));
            }
        }
        self.tokens.check()?;
        self.check_links()?;
        if self.contrast.from == self.contrast.to {
            return Err(Invalid::new(
                format!("the contrast compares `{}` with itself", self.contrast.from),
                "name two phases in `contrast.from` and `contrast.to`",
            ));
        }
        if self.contrast.last == Some(0) {
            return Err(Invalid::new(
                "`contrast.last` is 0",
                "leave it out to take all sessions",
            ));
        }
        self.questions.check()?;
        course::check_targets(&self.targets)?;
        self.texts.check()
    }

    /// Links beside this many new words, rounded up: a share that is not 0 asks for one at least.
    pub fn links_among(&self, new: usize) -> usize {
        let wanted = (self.tokens.links.get() * new as f64).ceil();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of a count is a count"
        )]
        {
            wanted as usize
        }
    }

    fn check_links(&self) -> Result<(), Invalid> {
        let listeners = &self.listeners;
        if listeners.invited == 0 && listeners.open == 0 {
            return Err(Invalid::new(
                "`listeners.invited` and `listeners.open` are 0",
                "give at least one personal link, or an open link for at least one listener",
            ));
        }
        if listeners.link_days == Some(0) {
            return Err(Invalid::new(
                "`listeners.link_days` is 0",
                "leave it out, and links hold as long as the round is open",
            ));
        }
        let checks = self.sitting.checks;
        match self.screening.live_after() {
            Some(after) if after > checks.saturating_mul(listeners.sittings) => Err(Invalid::new(
                format!(
                    "`screening.live_after_checks` is {after}, and a listener hears {checks} checks in a sitting"
                ),
                "ask for fewer, or write `live = false`",
            )),
            _ => Ok(()),
        }
    }

    /// The plan with all that was left open settled, as it is sealed.
    #[must_use]
    pub fn settled(mut self) -> Self {
        let screening = &mut self.screening;
        screening.live.get_or_insert(true);
        screening
            .live_after_checks
            .get_or_insert(self.sitting.checks.div_ceil(2));
        self
    }

    /// Repeats in a sitting of this many main presentations, rounded to the nearest.
    pub fn repeats_among(&self, main: usize) -> usize {
        let wanted = (self.sitting.repeats.get() * main as f64).round();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of a count is a count"
        )]
        {
            wanted as usize
        }
    }
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
const fn is_false(value: &bool) -> bool {
    !*value
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
const fn is_zero(count: &u32) -> bool {
    *count == 0
}

const fn naive() -> ListenerKind {
    ListenerKind::Naive
}

const fn one() -> u32 {
    1
}

const fn yes() -> bool {
    true
}

fn usual_repeats() -> Share {
    Share::FIFTEEN_PERCENT
}

/// Ten places (ours): about a minute of listening between a word and its repeat.
const fn usual_distance() -> u32 {
    10
}

/// An hour (ours).
const fn usual_give_back() -> u32 {
    60
}

fn usual_smallest_change() -> Share {
    Share::FIFTEEN_PERCENT
}

const fn ninety_five() -> Confidence {
    Confidence::NINETY_FIVE
}

/// One, as the commands' default.
const fn usual_seed() -> u64 {
    1
}

/// Nine of ten (ours).
const fn usual_careful_accuracy() -> Share {
    Share::NINE_OF_TEN
}
