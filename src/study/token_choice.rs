//! Which tokens a round plays: chosen by the plan, or drawn by the act of sealing.

use super::ChildCode;
use super::Invalid;
use super::Phase;
use super::Share;

/// Which of the study's scored tokens a round plays; an empty list means all.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TokenChoice {
    /// Only these children and peers.
    #[serde(default)]
    pub children: Vec<ChildCode>,
    /// Only these phases.
    #[serde(default)]
    pub phases: Vec<Phase>,
    /// Which try counts where a word was said more than once.
    #[serde(default)]
    pub attempts: Attempts,
    /// Of each child in each phase only so many sessions, drawn at the seal; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_sessions: Option<u32>,
    /// Of each session only so many words, drawn at the seal: one order of words a child, so that her sessions share as
    /// many words as they can; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_words: Option<u32>,
    /// Whether only what no earlier round played is heard, with links.
    #[serde(default, skip_serializing_if = "is_false")]
    pub only_new: bool,
    /// With `only_new`: words of earlier rounds that are heard again as links, as a share of the new ones (ours: 0.15).
    #[serde(default = "usual_links", skip_serializing_if = "is_usual_links")]
    pub links: Share,
}

impl Default for TokenChoice {
    fn default() -> Self {
        Self {
            children: Vec::new(),
            phases: Vec::new(),
            attempts: Attempts::default(),
            sample_sessions: None,
            sample_words: None,
            only_new: false,
            links: usual_links(),
        }
    }
}

impl TokenChoice {
    pub(super) fn check(&self) -> Result<(), Invalid> {
        for (field, value) in [
            ("tokens.sample_sessions", self.sample_sessions),
            ("tokens.sample_words", self.sample_words),
        ] {
            if value == Some(0) {
                return Err(Invalid::new(
                    format!("`{field}` is 0"),
                    "leave it out to take all, or draw at least 1",
                ));
            }
        }
        Ok(())
    }
}

/// Which try at a word counts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Attempts {
    /// The first one recorded in the session.
    #[default]
    First,
    /// The last one recorded in the session.
    Last,
    /// Every one, each a token.
    All,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
const fn is_false(value: &bool) -> bool {
    !*value
}

const fn usual_links() -> Share {
    Share::FIFTEEN_PERCENT
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature that serde asks for"
)]
fn is_usual_links(links: &Share) -> bool {
    *links == Share::FIFTEEN_PERCENT
}
