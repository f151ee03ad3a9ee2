//! The blinding key: which child, session, phase and file stand behind a token, and nothing else.
//!
//! Only `store`, `exchange`, `app` and `analysis` may name this module.

use super::ChildCode;
use super::Cohort;
use super::Condition;
use super::Elicitation;
use super::Judgement;
use super::KnownAnswer;
use super::Phase;
use super::Use;
use super::Word;

/// Where a token comes from: all that a listener must not learn.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct TokenKey {
    /// The child who spoke, where the token is somebody's session.
    pub child: Option<ChildCode>,
    /// The recording occasion, counted from 1.
    pub session: Option<u32>,
    /// The phase of that session.
    pub phase: Option<Phase>,
    /// The child's way of treating.
    pub cohort: Option<Cohort>,
    /// The session's way of treating, where ways alternate.
    pub condition: Option<Condition>,
    /// The day of the recording.
    pub date: Option<jiff::civil::Date>,
    /// The word with its judged letters marked.
    pub word: Word,
    /// The sound under treatment, where it differs from the study's.
    pub target: Option<String>,
    /// Its position in the word.
    pub position: Option<String>,
    /// Whether the word was practised in treatment.
    pub treated: Option<bool>,
    /// Which try it was, counted from 1.
    pub attempt: u32,
    /// How the word was elicited.
    pub elicitation: Option<Elicitation>,
    /// The child's age at the recording, in months.
    pub age_months: Option<u32>,
    /// What the token is for.
    #[serde(rename = "use")]
    pub use_: Use,
    /// The known answer of a check, practice or example token.
    pub answer: Option<KnownAnswer>,
    /// How the clinician scored it in the session.
    pub clinician_score: Option<Judgement>,
    /// The file name in the manifest.
    pub file: Option<String>,
}
