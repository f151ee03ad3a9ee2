//! Findings under labels, in an order of their own.

use serde::Serialize;
use serde::Serializer;
use serde::ser::SerializeMap;

/// Values under labels that keep their order: written as one object whose keys are the labels.
#[derive(Debug, Clone, PartialEq)]
pub struct Labelled<T>(Vec<(String, T)>);

impl<T> Labelled<T> {
    /// The value under a label.
    pub fn get(&self, label: &str) -> Option<&T> {
        self.iter()
            .find(|(name, _)| *name == label)
            .map(|(_, value)| value)
    }

    /// Labels and values in their order.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &T)> {
        self.0.iter().map(|(label, value)| (label.as_str(), value))
    }
}

impl<T> FromIterator<(String, T)> for Labelled<T> {
    fn from_iter<I: IntoIterator<Item = (String, T)>>(entries: I) -> Self {
        Self(entries.into_iter().collect())
    }
}

impl<T: Serialize> Serialize for Labelled<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (label, value) in self.iter() {
            map.serialize_entry(label, value)?;
        }
        map.end()
    }
}
