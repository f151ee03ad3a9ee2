//! A word, with the letters that carry the sound under judgement.

use std::fmt;
use std::str::FromStr;

use super::Invalid;

/// The longest word, in characters, brackets left out.
const LONGEST: usize = 60;

/// A word such as `[s]ail`: the text, and which of its letters are judged.
///
/// Square brackets mark the judged letters; a word without brackets has none marked.
#[derive(
    Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(try_from = "String", into = "String")]
pub struct Word {
    parts: Vec<Part>,
}

/// A run of letters of a word.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Part {
    /// The letters.
    pub letters: String,
    /// Whether they carry the sound under judgement.
    pub judged: bool,
}

impl Word {
    /// Reads `mu[ss]el` and the like.
    ///
    /// # Errors
    /// [`Invalid`] for an empty word, one of more than 60 characters, control characters, or
    /// brackets that do not close, do not open, stand inside each other or hold nothing.
    pub fn new(raw: &str) -> Result<Self, Invalid> {
        let raw = raw.trim();
        if raw.chars().any(char::is_control) {
            return Err(Invalid::new(
                "the word holds a control character",
                "write it on one line",
            ));
        }
        let parts = split_at_brackets(raw)?;
        let length: usize = parts.iter().map(|part| part.letters.chars().count()).sum();
        if length == 0 {
            return Err(Invalid::new(
                "the word is empty",
                "write the word that was said",
            ));
        }
        if length > LONGEST {
            return Err(Invalid::new(
                format!("the word has {length} characters"),
                format!("shorten it to {LONGEST} at most"),
            ));
        }
        Ok(Self { parts })
    }

    /// The word as it is read, without brackets.
    pub fn text(&self) -> String {
        self.parts
            .iter()
            .map(|part| part.letters.as_str())
            .collect()
    }

    /// The runs of letters from left to right, each judged or not.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }
}

fn split_at_brackets(raw: &str) -> Result<Vec<Part>, Invalid> {
    let mend = "mark the judged letters once, like [s]ail or mu[ss]el";
    let refuse = |what: &str| Err(Invalid::new(what, mend));
    let mut parts = Vec::new();
    let mut letters = String::new();
    let mut inside = false;
    for sign in raw.chars() {
        match (sign, inside) {
            ('[', true) => return refuse("the word opens a bracket inside a bracket"),
            (']', false) => return refuse("the word closes a bracket that was never opened"),
            (']', true) if letters.is_empty() => return refuse("the word holds an empty bracket"),
            ('[', false) | (']', true) => {
                if !letters.is_empty() {
                    parts.push(Part {
                        letters: std::mem::take(&mut letters),
                        judged: inside,
                    });
                }
                inside = !inside;
            }
            _ => letters.push(sign),
        }
    }
    if inside {
        return refuse("the word opens a bracket that never closes");
    }
    if !letters.is_empty() {
        parts.push(Part {
            letters,
            judged: false,
        });
    }
    Ok(parts)
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for part in &self.parts {
            if part.judged {
                write!(f, "[{}]", part.letters)?;
            } else {
                f.write_str(&part.letters)?;
            }
        }
        Ok(())
    }
}

impl FromStr for Word {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        Self::new(raw)
    }
}

impl TryFrom<String> for Word {
    type Error = Invalid;
    fn try_from(raw: String) -> Result<Self, Invalid> {
        Self::new(&raw)
    }
}

impl From<Word> for String {
    fn from(word: Word) -> Self {
        word.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brackets_mark_the_judged_letters() {
        let word = Word::new("[s]ci[ss]ors").unwrap();
        assert_eq!(word.text(), "scissors");
        assert_eq!(word.to_string(), "[s]ci[ss]ors");
        let judged: Vec<_> = word
            .parts()
            .iter()
            .filter(|p| p.judged)
            .map(|p| &*p.letters)
            .collect();
        assert_eq!(judged, ["s", "ss"]);
    }

    #[test]
    fn brackets_that_do_not_pair_are_refused() {
        for raw in ["[sail", "sail]", "[[s]ail", "[]sail", "", "[]", "a\tb"] {
            assert!(Word::new(raw).is_err(), "{raw:?} was taken");
        }
    }
}
