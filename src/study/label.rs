//! Short texts that name things of a study: codes, phases, cohorts, rounds.

use std::fmt;
use std::str::FromStr;

use super::Invalid;

/// The longest label, in characters.
const LONGEST: usize = 64;

fn checked(kind: &str, raw: &str) -> Result<String, Invalid> {
    let text = raw.trim();
    if text.is_empty() {
        return Err(Invalid::new(
            format!("the {kind} is empty"),
            format!("give the {kind} a short name"),
        ));
    }
    let length = text.chars().count();
    if length > LONGEST {
        return Err(Invalid::new(
            format!("the {kind} has {length} characters"),
            format!("shorten it to {LONGEST} at most"),
        ));
    }
    if text.chars().any(char::is_control) {
        return Err(Invalid::new(
            format!("the {kind} holds a line break or another control character"),
            "write it in plain characters on one line",
        ));
    }
    Ok(text.to_owned())
}

/// Whether a label holds a day or a year: `2024`, `12.3.24`, `24-03-12`. A week such as `1-2` is none.
pub fn holds_a_date(label: &str) -> bool {
    let is_digit = |sign: char| sign.is_ascii_digit();
    let mut words = label.split(|sign: char| !is_digit(sign) && !matches!(sign, '.' | '-' | '/'));
    words.any(|word| {
        let day = ['.', '-', '/'].iter().any(|between| {
            let parts: Vec<_> = word.split(*between).collect();
            parts.len() >= 3
                && parts
                    .iter()
                    .take(3)
                    .all(|part| !part.is_empty() && part.chars().all(is_digit))
        });
        let mut numbers = word.split(|sign| !is_digit(sign));
        day || numbers.any(|number| {
            number.len() == 4 && (number.starts_with("19") || number.starts_with("20"))
        })
    })
}

macro_rules! label {
    ($(#[$doc:meta])* $name:ident, $kind:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(String);

        impl $name {
            /// # Errors
            /// [`Invalid`] if it is empty, longer than 64 characters, or holds control characters.
            pub fn new(raw: &str) -> Result<Self, Invalid> {
                checked($kind, raw).map(Self)
            }

            /// The text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl FromStr for $name {
            type Err = Invalid;
            fn from_str(raw: &str) -> Result<Self, Invalid> {
                Self::new(raw)
            }
        }

        impl TryFrom<String> for $name {
            type Error = Invalid;
            fn try_from(raw: String) -> Result<Self, Invalid> {
                Self::new(&raw)
            }
        }

        impl From<$name> for String {
            fn from(label: $name) -> Self {
                label.0
            }
        }
    };
}

label! {
    /// The name under which a person signs in at the desk.
    AccountName, "name of an account"
}

label! {
    /// The random code under which the log knows an account.
    AccountCode, "code of an account"
}

label! {
    /// A child's code, such as `C01`: never a name or a birth date.
    ChildCode, "child"
}
label! {
    /// A stretch of the study: baseline, treatment, maintenance, or the study's own label.
    Phase, "phase"
}
label! {
    /// The way of treating to which a child belongs.
    Cohort, "cohort"
}
label! {
    /// The way of treating in one session, where ways alternate within a child.
    Condition, "condition"
}
label! {
    /// The name of a round, unique in its study.
    RoundName, "round"
}
label! {
    /// What the desk calls a child: it never leaves the desk.
    ChildLabel, "label"
}
label! {
    /// The version of the text to which a family agreed.
    ConsentVersion, "version of the consent"
}
label! {
    /// Who said what a word's answer is: an account's name, or a free code.
    JudgeCode, "judge"
}
label! {
    /// A listener's random code; nothing else is known of who listens.
    ListenerCode, "listener"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_trimmed_and_an_empty_one_is_refused() {
        assert_eq!(ChildCode::new(" C01 ").unwrap().as_str(), "C01");
        let refusal = Phase::new("  ").unwrap_err().to_string();
        assert_eq!(refusal, "the phase is empty; give the phase a short name");
    }

    #[test]
    fn a_date_in_a_label_is_seen_and_weeks_and_doses_are_none() {
        for label in [
            "cohort 2023",
            "12.3.24",
            "from 24-03-12 on",
            "(3/12/2019)",
            "1998",
        ] {
            assert!(holds_a_date(label), "{label}");
        }
        for label in [
            "baseline",
            "weeks 1-2",
            "block 3/4",
            "30 trials",
            "A.1",
            "12345",
            "dose 1.5",
            "v1..2",
        ] {
            assert!(!holds_a_date(label), "{label}");
        }
    }

    #[test]
    fn a_label_that_is_too_long_or_broken_says_the_bound() {
        assert!(
            Cohort::new(&"x".repeat(65))
                .unwrap_err()
                .to_string()
                .contains("64")
        );
        assert!(Cohort::new("a\nb").is_err());
    }
}
