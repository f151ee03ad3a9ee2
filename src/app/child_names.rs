//! Whether a text that is to stay, or to be given away, names a child of the study.

use super::AppError;
use crate::store::Reading;

/// What the study and its desk call the children.
pub(super) struct ChildNames {
    lower: Vec<String>,
}

impl ChildNames {
    /// Codes and local labels of at least so many characters.
    pub(super) fn read(reading: &Reading<'_>, shortest: usize) -> Result<Self, AppError> {
        let codes = reading.children()?.into_iter();
        let codes = codes.map(|child| child.code.to_string());
        let labels = reading.child_labels()?.into_iter();
        let labels = labels.map(|(_, label)| label.to_string());
        Ok(Self {
            lower: codes
                .chain(labels)
                .filter(|name| name.chars().count() >= shortest)
                .map(|name| name.to_lowercase())
                .collect(),
        })
    }

    /// Whether one of them stands in the text as a word, in small letters or capitals.
    pub(super) fn are_in(&self, text: &str) -> bool {
        let text = text.to_lowercase();
        self.lower.iter().any(|name| holds(&text, name))
    }
}

/// Whether a text holds a name that is not part of a longer word.
fn holds(text: &str, name: &str) -> bool {
    text.match_indices(name).any(|(place, _)| {
        let before = text
            .get(..place)
            .and_then(|before| before.chars().next_back());
        let behind = text
            .get(place + name.len()..)
            .and_then(|behind| behind.chars().next());
        [before, behind]
            .into_iter()
            .flatten()
            .all(|sign| !sign.is_alphanumeric())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_found_as_a_word_and_not_inside_another() {
        for (text, name, found) in [
            ("moritz' own way", "moritz", true),
            ("c01", "c01", true),
            ("c011", "c01", false),
            ("ante", "ant", false),
            ("the ant", "ant", true),
        ] {
            assert_eq!(holds(text, name), found, "{text}");
        }
    }
}
