//! What a round yielded, once its results may be seen: plain rows, in a fixed order.

use std::collections::BTreeSet;
use std::fmt;

use super::Assignment;
use super::Exclusion;
use super::Judgement;
use super::ListenerCode;
use super::ListenerKind;
use super::MaskedRecord;
use super::Plan;
use super::PresentationKind;
use super::RoundState;
use super::SetAside;
use super::StudySettings;
use super::key::TokenKey;

/// All that a round yielded. The same round gives the same rows in the same order.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundRecord {
    /// What is known of the round itself.
    pub facts: RoundFacts,
    /// The study's settings as they were sealed.
    pub settings: StudySettings,
    /// The sealed plan.
    pub plan: Plan,
    /// The sealed document, to the byte.
    pub sealed: String,
    /// The tokens that were played, in the order of their names.
    pub tokens: Vec<TokenRecord>,
    /// The listeners, in the order of their links.
    pub listeners: Vec<ListenerRecord>,
    /// What the listeners answered beside their judgements: one choice of several each.
    pub answers: Vec<AnswerRecord>,
    /// What they said of their sound.
    pub sound_checks: Vec<SoundCheckRecord>,
    /// Every presentation that came to an end, by listener and in the order of hearing.
    pub presentations: Vec<PresentationRecord>,
    /// The rows of manifests without a recording.
    pub missing: Vec<MissingRecord>,
    /// What was drawn before treatment and sealed; nothing else is called random.
    pub assignment: Option<Assignment>,
    /// Why what was drawn is no randomised comparison, where something was.
    pub not_random: Option<String>,
    /// The words that were excluded by the round's close.
    pub excluded: Vec<ExcludedRecord>,
    /// Where an analyst saw changes begin before the round was unlocked; nothing where nobody looked.
    pub masked: Option<MaskedRecord>,
}

impl RoundRecord {
    /// The listeners who are not of the kind that the plan's panel is of: they stand beside it and are never pooled with it.
    pub fn reference_listeners(&self) -> BTreeSet<&ListenerCode> {
        let panel = self.plan.listeners.kind;
        let beside = self.listeners.iter().filter(|row| row.kind != panel);
        beside.map(|row| &row.code).collect()
    }
}

/// Something that was done otherwise than planned; as text in every file.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[serde(into = "String")]
pub struct DeviationRecord {
    /// What was done, after its time.
    pub said: String,
    /// Why, as somebody typed it, after its time; nothing where nobody did.
    pub reason: Option<String>,
}

impl fmt::Display for DeviationRecord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.said)?;
        match &self.reason {
            Some(reason) => write!(f, "; {reason}"),
            None => Ok(()),
        }
    }
}

impl From<DeviationRecord> for String {
    fn from(deviation: DeviationRecord) -> Self {
        deviation.to_string()
    }
}

/// What is known of a round itself.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct RoundFacts {
    /// Its name.
    pub round: String,
    /// Its seal.
    pub seal: String,
    /// The version of the program that sealed it.
    pub sealed_by: String,
    /// When it opened, RFC 3339 in UTC.
    pub opened: String,
    /// When it closed, RFC 3339 in UTC.
    pub closed: String,
    /// The seed of its orders, in hex: any sitting can be rebuilt from it.
    pub seed: String,
    /// Events in the log at the close.
    pub events: u64,
    /// The head of the log at the close.
    pub head: String,
    /// Every round of the study that was sealed before this one closed, abandoned ones too, and every later one that plays
    /// tokens of this one; oldest first.
    pub rounds: Vec<RoundMention>,
    /// Every assignment that was drawn before this round was sealed, oldest first.
    pub assignments: Vec<AssignmentMention>,
    /// Which look at the study's results this is.
    pub look: Look,
    /// What was done otherwise than planned.
    pub deviations: Vec<DeviationRecord>,
    /// By how many people the known answers are known; none was sealed by earlier programs.
    pub known_answers: Option<KnownAnswers>,
    /// Whether the panel is simulated.
    pub simulated: bool,
    /// Listeners who withdrew: nothing of theirs stands in what follows.
    pub withdrawn: usize,
}

/// By how many people the answers of a round's check and practice words are known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct KnownAnswers {
    /// Words on which two people or more agreed, each for herself.
    pub by_two: usize,
    /// Words that one person alone answered.
    pub by_one: usize,
    /// Of these, words of which it was noted why nobody else could be asked.
    pub with_a_reason: usize,
}

/// Another round of the study.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct RoundMention {
    /// Its name.
    pub round: String,
    /// Its seal.
    pub seal: String,
    /// How far it had come when this one closed; a later one, how far it has come by now.
    pub state: RoundState,
    /// Whether it was sealed after this one closed.
    pub later: bool,
    /// How many tokens it shares with this one.
    pub shared_tokens: usize,
}

/// An assignment of the study.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct AssignmentMention {
    /// Counted from 1.
    pub number: u32,
    /// Its seal.
    pub seal: String,
    /// When it was drawn, RFC 3339 in UTC.
    pub drawn: String,
    /// Recordings that were imported by then.
    pub recordings: u64,
    /// Of them, recordings of the later phase of its contrast.
    pub later_recordings: u64,
    /// Why it was drawn again.
    pub why: Option<String>,
}

/// A look at results: a round that was unlocked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Look {
    /// Counted from 1 over the rounds of the study, in the order in which they were unlocked.
    pub taken: u32,
    /// How many were planned with the assignment, the last included; nothing where none was drawn.
    pub planned: Option<u32>,
}

impl Look {
    /// The first of one, or of an unknown number: there is nothing to say of it.
    pub fn is_the_only_one(self) -> bool {
        self.taken == 1 && self.planned.is_none_or(|planned| planned == 1)
    }

    /// How many are still planned.
    pub fn to_come(self) -> Option<u32> {
        self.planned
            .map(|planned| planned.saturating_sub(self.taken))
    }
}

/// A token that was played.
#[derive(Debug, Clone, PartialEq)]
pub struct TokenRecord {
    /// Its name in exports: `T` and its number in the sealed document.
    pub name: String,
    /// Where it comes from.
    pub key: TokenKey,
    /// Whether it was heard again only to tell this panel from earlier ones: it counts for no session of this round.
    pub link: bool,
    /// SHA-256 of the audio that was played.
    pub audio_sha256: String,
    /// Its length in seconds.
    pub seconds: f64,
    /// Its level in LUFS.
    pub level_lufs: f64,
    /// The gain that brought it there, in dB.
    pub gain_db: f64,
    /// Speech over noise in dB, where it can be told.
    pub snr_db: Option<f64>,
    /// Its bandwidth in Hz.
    pub bandwidth_hz: f64,
    /// Remarks on its quality.
    pub marks: Vec<String>,
}

/// A listener of the round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListenerRecord {
    /// Her code.
    pub code: ListenerCode,
    /// Naive or expert.
    pub kind: ListenerKind,
    /// How far she came.
    pub came: Came,
    /// Why a sealed rule let her go while she listened; none where none did.
    pub let_go: Option<String>,
}

/// One answer of a listener to a question of the plan or of the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnswerRecord {
    /// Who.
    pub listener: ListenerCode,
    /// The name of the question.
    pub question: String,
    /// The choice that was made.
    pub answer: String,
}

/// What a listener said of her sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoundCheckRecord {
    /// Counted from 1 for its listener: she checks it at each device.
    pub number: u32,
    /// Who.
    pub listener: ListenerCode,
    /// What she listened with.
    pub device: String,
    /// Whether she heard the sample whole.
    pub heard: bool,
    /// How far below the prepared level her page played, in dB.
    pub level_db: Option<i8>,
    /// Made-up sounds told right, of how many, in which try: the last one.
    pub first_sound: Option<[u32; 3]>,
    /// The same of the tones for headphones.
    pub headphones: Option<[u32; 3]>,
}

/// How far a listener came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Came {
    /// She never opened her link.
    Invited,
    /// She opened it.
    Opened,
    /// She agreed to take part.
    Agreed,
    /// She began to judge.
    Began,
    /// She finished.
    Finished,
}

/// One presentation that came to an end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PresentationRecord {
    /// The token's name.
    pub token: String,
    /// Who listened.
    pub listener: ListenerCode,
    /// What the presentation was for.
    pub kind: PresentationKind,
    /// The sitting, counted from 1 for its listener.
    pub sitting: u32,
    /// Its place among all that this listener heard, counted from 1.
    pub order: u32,
    /// The judgement that counts; none where it was set aside.
    pub answer: Option<Judgement>,
    /// Why there is none.
    pub aside: Option<WhyAside>,
    /// Revisions of the answer.
    pub revisions: u32,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
    /// The grain of the clock that measured it, in milliseconds.
    pub rt_grain_ms: Option<u32>,
    /// How often the word was played again.
    pub replays: Option<u32>,
    /// How often it was cut short before, and came back.
    pub voided: u32,
    /// Whether the listener said, then or later, that she knows the speaker.
    pub known_speaker: bool,
}

/// Why a presentation yielded no judgement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum WhyAside {
    /// The listener set it aside.
    Said(SetAside),
    /// Its sound was cut short each time, until it was given up.
    CutShort,
}

impl fmt::Display for WhyAside {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Said(reason) => reason.as_str(),
            Self::CutShort => "cut-short",
        })
    }
}

/// A word that was to be said and was not recorded.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct MissingRecord {
    /// The child's code.
    pub child: String,
    /// The session.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// The word.
    pub word: String,
    /// Why there is no recording.
    pub reason: String,
}

/// A word that was recorded and left out before anybody judged it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct ExcludedRecord {
    /// The child's code.
    pub child: String,
    /// The session.
    pub session: u32,
    /// Its phase.
    pub phase: String,
    /// The word.
    pub word: String,
    /// Why it was left out.
    pub reason: Exclusion,
}
