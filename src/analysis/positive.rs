//! Which of two values is 'positive'.

use crate::study::Invalid;
use crate::study::Labels;

/// Two values, one of which is 'positive': the signal, the answer that a share counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Positive {
    label: String,
    other: String,
    flags: Vec<bool>,
}

impl Positive {
    /// The value `named`, else `correct`, else `1`; every other value is the other one.
    ///
    /// # Errors
    /// [`Invalid`] where no value is positive by name or by default, or where more than two values occur and none was named.
    pub fn of(values: &Labels, named: Option<&str>) -> Result<Self, Invalid> {
        let has = |label: &str| values.find(label).is_some();
        let label = match named {
            Some(named) => named,
            None if has("correct") || has("distorted") || values.is_empty() => "correct",
            None if has("1") || has("0") => "1",
            None => {
                return Err(Invalid::new(
                    format!(
                        "no value is `correct` or `1` (found: {})",
                        values.names().join(", ")
                    ),
                    "name the positive one with --positive",
                ));
            }
        };
        let others: Vec<&String> = values
            .names()
            .iter()
            .filter(|value| *value != label)
            .collect();
        let other = match others.as_slice() {
            [] if label == "correct" => "distorted".to_owned(),
            [] if label == "1" => "0".to_owned(),
            [only] => (*only).clone(),
            [] => format!("not {label}"),
            _ if named.is_some() => format!("not {label}"),
            _ => {
                return Err(Invalid::new(
                    format!(
                        "there are {} different values where two are expected: {}",
                        values.len(),
                        values.names().join(", ")
                    ),
                    "mend them, or name the positive one with --positive; all others are then taken together",
                ));
            }
        };
        Ok(Self {
            flags: values.names().iter().map(|value| value == label).collect(),
            label: label.to_owned(),
            other,
        })
    }

    /// Whether a value is positive, by its number in the table it was read from.
    pub fn is(&self, value: u32) -> bool {
        self.flags.get(value as usize).copied().unwrap_or(false)
    }

    /// The positive value, or the other.
    pub fn name(&self, positive: bool) -> &str {
        if positive { &self.label } else { &self.other }
    }

    /// What a known answer says: `correct` and `distorted`, `1` and `0`, or the two values themselves.
    ///
    /// # Errors
    /// [`Invalid`] for anything else.
    pub fn answer(&self, raw: &str) -> Result<bool, Invalid> {
        match raw {
            _ if raw == self.label => Ok(true),
            _ if raw == self.other => Ok(false),
            "correct" | "1" => Ok(true),
            "distorted" | "0" => Ok(false),
            _ => Err(Invalid::new(
                format!("the answer `{raw}` is none of the two values"),
                format!("write {} or {}", self.label, self.other),
            )),
        }
    }
}
