//! Why a number is missing: kept beside the numbers, under the field's name.

use std::collections::BTreeMap;
use std::fmt::Display;

/// The reasons for what is `null`, keyed by the field's name; a field inside another is named `outer.inner`.
///
/// A finding that holds numbers which may not exist holds one of these. The name of an outer field alone speaks for all
/// that is in it.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Reasons(BTreeMap<String, String>);

impl Reasons {
    /// No reasons yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// The value, or nothing and the reason noted.
    pub fn keep<T>(&mut self, field: &str, value: Result<T, impl Display>) -> Option<T> {
        match value {
            Ok(value) => Some(value),
            Err(reason) => {
                self.say(field, reason);
                None
            }
        }
    }

    /// Notes why a field is `null`, or what its value leaves out.
    pub fn say(&mut self, field: &str, reason: impl Display) {
        self.0.insert(field.to_owned(), reason.to_string());
    }

    /// One reason in place of all that were noted: where it holds, none of them is worth a word.
    pub fn say_of_all(&mut self, reason: impl Display) {
        for said in self.0.values_mut() {
            *said = reason.to_string();
        }
    }

    /// Why a field is `null`, where that was noted.
    pub fn of(&self, field: &str) -> Option<&str> {
        self.0.get(field).map(String::as_str)
    }

    /// Every field with its reason, by name.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(field, reason)| (field.as_str(), reason.as_str()))
    }

    /// Whether nothing is missing.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// A number that a file may hold: neither infinite nor NaN.
pub fn finite(number: f64) -> Option<f64> {
    number.is_finite().then_some(number)
}
