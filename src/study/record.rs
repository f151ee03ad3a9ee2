//! What a round yielded, once its results may be seen: plain rows, in a fixed order.

use super::Exclusion;
use super::Judgement;
use super::ListenerCode;
use super::ListenerKind;
use super::Plan;
use super::PresentationKind;
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
    /// Every presentation that came to an end, by listener and in the order of hearing.
    pub presentations: Vec<PresentationRecord>,
    /// The rows of manifests without a recording.
    pub missing: Vec<MissingRecord>,
    /// The words that were excluded by the round's close.
    pub excluded: Vec<ExcludedRecord>,
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
    /// Every round of the study up to this one, oldest first: name, state and seal.
    pub rounds: Vec<RoundMention>,
    /// What was done otherwise than planned, with its time.
    pub deviations: Vec<String>,
    /// By how many people the known answers are known; none was sealed by earlier programs.
    pub known_answers: Option<KnownAnswers>,
    /// Whether the panel is simulated.
    pub simulated: bool,
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
    /// How many tokens it shares with this one.
    pub shared_tokens: usize,
}

/// A token that was played.
#[derive(Debug, Clone, PartialEq)]
pub struct TokenRecord {
    /// Its name in exports: `T` and its number in the sealed document.
    pub name: String,
    /// Where it comes from.
    pub key: TokenKey,
    /// SHA-256 of the audio that was played.
    pub audio_sha256: String,
    /// Its length in seconds.
    pub seconds: f64,
    /// Its level in LUFS.
    pub level_lufs: f64,
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
    /// Why it was set aside.
    pub aside: Option<SetAside>,
    /// Revisions of the answer.
    pub revisions: u32,
    /// From the end of the sound to the press, in milliseconds.
    pub rt_ms: Option<u32>,
    /// How often the word was played again.
    pub replays: Option<u32>,
    /// Whether the listener said, then or later, that she knows the speaker.
    pub known_speaker: bool,
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
