//! Names and their numbers: a column of a table holds small numbers, the names stand once beside it.

use std::collections::HashMap;

/// Names in the order in which they first appeared, each with a number counted from 0.
///
/// A table of a million judgements holds each item, rater and value as such a number.
#[derive(Debug, Clone, Default)]
pub struct Labels {
    names: Vec<String>,
    numbers: HashMap<String, u32>,
    /// The number last asked for: in a table the same name stands in many rows together.
    last: u32,
}

impl PartialEq for Labels {
    fn eq(&self, other: &Self) -> bool {
        self.names == other.names
    }
}

impl Eq for Labels {}

impl Labels {
    /// No names yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// The number of `name`, which is given one if it is new.
    pub fn number(&mut self, name: &str) -> u32 {
        if self.name(self.last) == name && !self.names.is_empty() {
            return self.last;
        }
        if let Some(&number) = self.numbers.get(name) {
            self.last = number;
            return number;
        }
        let number = u32::try_from(self.names.len()).unwrap_or(u32::MAX);
        self.names.push(name.to_owned());
        self.numbers.insert(name.to_owned(), number);
        self.last = number;
        number
    }

    /// The number of `name`, if it has one.
    pub fn find(&self, name: &str) -> Option<u32> {
        self.numbers.get(name).copied()
    }

    /// The name behind a number; empty for a number that was never given.
    pub fn name(&self, number: u32) -> &str {
        self.names.get(number as usize).map_or("", String::as_str)
    }

    /// All names, in the order of their numbers.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// How many names there are.
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_keeps_its_number() {
        let mut labels = Labels::new();
        assert_eq!(labels.number("t2"), 0);
        assert_eq!(labels.number("t1"), 1);
        assert_eq!(labels.number("t2"), 0);
        assert_eq!(labels.names(), ["t2", "t1"]);
        assert_eq!(labels.find("t3"), None);
        assert_eq!(labels.number("t1"), 1);
        assert_eq!(labels.number(""), 2);
    }
}
