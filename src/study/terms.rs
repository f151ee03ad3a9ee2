//! The closed lists of the trade: what a token is for, what was heard, how a word was elicited.

use std::fmt;
use std::str::FromStr;

use super::Invalid;

macro_rules! terms {
    ($(#[$doc:meta])* $name:ident, $kind:literal { $($(#[$vdoc:meta])* $variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $text)] $variant),+
        }

        impl $name {
            /// Every term of the list, in its order.
            pub const ALL: &[Self] = &[$(Self::$variant),+];

            /// The term as files and pages write it.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl FromStr for $name {
            type Err = Invalid;
            fn from_str(raw: &str) -> Result<Self, Invalid> {
                match raw.trim() {
                    $($text => Ok(Self::$variant),)+
                    _ => Err(Invalid::new(
                        concat!("this is no ", $kind),
                        format!("write one of {}", [$($text),+].join(", ")),
                    )),
                }
            }
        }
    };
}

terms! {
    /// What a token is for.
    Use, "use of a token" {
        /// Its judgements make the outcome.
        Scored = "scored",
        /// A child of the same age with typical speech, heard in the same round.
        Peer = "peer",
        /// Its answer is known; it watches over the listener.
        Check = "check",
        /// Heard with feedback before the sitting.
        Practice = "practice",
        /// Heard first in the sitting, unscored and without feedback.
        WarmUp = "warm-up",
        /// Played as an example of what to judge.
        Example = "example",
    }
}

impl Use {
    /// Whether its judgements count in results by child and session.
    pub const fn is_scored(self) -> bool {
        matches!(self, Self::Scored | Self::Peer)
    }
}

terms! {
    /// What a listener hears in a token: the one question of every presentation.
    Judgement, "judgement" {
        /// The sound is right.
        Correct = "correct",
        /// The sound is distorted.
        Distorted = "distorted",
    }
}

terms! {
    /// The answer that is known of a check, practice or example token.
    KnownAnswer, "known answer" {
        /// Clearly correct.
        Correct = "correct",
        /// Clearly distorted.
        Distorted = "distorted",
        /// Borderline: listeners were divided. Not for check tokens.
        Divided = "divided",
    }
}

terms! {
    /// Why a third person settles what two people heard differently in a word.
    Settling, "reason for settling an answer" {
        /// Three listened together, and what is said now is what all of them heard.
        HeardTogether = "heard-together",
        /// One of the two judged another sound of the word.
        OtherSound = "other-sound",
        /// One of the two pressed the wrong button, or the table was filled in wrongly.
        Mistake = "mistake",
        /// One of the two listened in a noisy place or to poor loudspeakers.
        PoorListening = "poor-listening",
    }
}

impl KnownAnswer {
    /// Whether a judgement meets it; nothing meets or misses a divided one.
    pub fn is_met_by(self, judgement: Judgement) -> Option<bool> {
        match self {
            Self::Correct => Some(judgement == Judgement::Correct),
            Self::Distorted => Some(judgement == Judgement::Distorted),
            Self::Divided => None,
        }
    }
}

terms! {
    /// How sure an analyst is of what a graph shows.
    Sureness, "degree of being sure" {
        /// Beyond doubt.
        Certain = "certain",
        /// More likely than not.
        Probable = "probable",
        /// No better than a guess.
        Guess = "guess",
    }
}

terms! {
    /// How the word was elicited.
    Elicitation, "way of eliciting" {
        /// The child named a picture.
        Named = "named",
        /// The child said it after somebody.
        Imitated = "imitated",
        /// The child read it.
        Read = "read",
        /// The word is cut from a sentence.
        Sentence = "sentence",
    }
}

terms! {
    /// What one place of a sitting is for.
    PresentationKind, "kind of presentation" {
        /// Played while it is explained what to judge; nothing is asked.
        Example = "example",
        /// With feedback, before the sitting.
        Practice = "practice",
        /// Unscored, without feedback.
        WarmUp = "warm-up",
        /// The answer is known.
        Check = "check",
        /// Scored.
        Main = "main",
        /// A main token again.
        Repeat = "repeat",
    }
}

terms! {
    /// Who listens.
    ListenerKind, "kind of listener" {
        /// Without training in phonetics.
        Naive = "naive",
        /// Trained to judge speech.
        Expert = "expert",
    }
}

terms! {
    /// Why a presentation was set aside: it is never a 'distorted'.
    SetAside, "reason to set a word aside" {
        /// Noise covered the word.
        Noise = "noise",
        /// Another word was said.
        AnotherWord = "another-word",
        /// No sound was heard.
        NoSound = "no-sound",
        /// The listener thinks that she knows the speaker.
        KnownSpeaker = "known-speaker",
    }
}

terms! {
    /// On which side of the page the answer 'correct' stands; fixed for a listener.
    AnswerSide, "side" {
        /// 'correct' left, 'distorted' right.
        Left = "left",
        /// 'correct' right, 'distorted' left.
        Right = "right",
    }
}

terms! {
    /// How far a round has come.
    RoundState, "state of a round" {
        /// Its plan may still change.
        Draft = "draft",
        /// Sealed; listeners judge.
        Open = "open",
        /// No further judgement.
        Closed = "closed",
        /// Results may be seen.
        Unlocked = "unlocked",
    }
}

terms! {
    /// What a person may do at the desk.
    Role, "role" {
        /// Everything.
        Researcher = "researcher",
        /// Recordings and tokens; no listener and no result.
        Preparer = "preparer",
        /// Reads of the children whom she was given, and changes nothing.
        Clinician = "clinician",
    }
}

terms! {
    /// Who may hear a child, as the family agreed to it. No scope holds another.
    Scope, "scope of a consent" {
        /// The clinic's own staff.
        Staff = "staff",
        /// Those who take part in the research, experts among them.
        Research = "research",
        /// Lay listeners elsewhere, who open a link.
        Remote = "remote",
        /// Whoever is shown how a sound can be: as example, practice, warm-up or check.
        Example = "example",
    }
}

terms! {
    /// What the child says of it.
    Assent, "assent" {
        /// The child agrees.
        Given = "given",
        /// The child does not want it: then it is not done, whatever the family agreed to.
        Refused = "refused",
        /// The child was too young to be asked.
        NotAsked = "not-asked",
    }
}

terms! {
    /// Why a recording is left out, before anybody judged it.
    Exclusion, "reason to exclude a recording" {
        /// Noise covers the word.
        Noise = "noise",
        /// Somebody else speaks at the same time.
        Overlap = "overlap",
        /// Another word was said.
        WrongWord = "wrong-word",
        /// The clinician's voice is in it.
        ClinicianVoice = "clinician-voice",
        /// A name is said.
        SaysAName = "says-a-name",
        /// The word is cut off.
        CutOff = "cut-off",
        /// Clipped, too quiet or otherwise spoilt in recording.
        Technical = "technical",
        /// The recording belongs to nothing in the study.
        NotPart = "not-part",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_term_reads_what_it_writes_and_lists_the_choices() {
        for term in Use::ALL {
            assert_eq!(term.as_str().parse::<Use>().unwrap(), *term);
        }
        let refusal = "wamr-up".parse::<Use>().unwrap_err().to_string();
        assert!(
            refusal.contains("scored, peer, check, practice, warm-up, example"),
            "{refusal}"
        );
    }

    #[test]
    fn a_divided_answer_is_neither_met_nor_missed() {
        assert_eq!(KnownAnswer::Divided.is_met_by(Judgement::Correct), None);
        assert_eq!(
            KnownAnswer::Distorted.is_met_by(Judgement::Correct),
            Some(false)
        );
    }
}
