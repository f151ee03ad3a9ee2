//! Names and their numbers: a column of a table holds small numbers, the names stand once beside it.

use std::hash::BuildHasher;

use hashbrown::DefaultHashBuilder;
use hashbrown::HashTable;

/// Names in the order in which they first appeared, each with a number counted from 0.
///
/// A table of a million judgements holds each item, rater and value as such a number.
#[derive(Debug, Clone, Default)]
pub struct Labels {
    names: Vec<String>,
    /// The numbers, found by the hash of their name: no name is held twice.
    numbers: HashTable<u32>,
    hasher: DefaultHashBuilder,
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
        if self
            .names
            .get(self.last as usize)
            .is_some_and(|last| last == name)
        {
            return self.last;
        }
        let hash = self.hasher.hash_one(name);
        self.last = match self.find_hashed(name, hash) {
            Some(number) => number,
            None => self.add(name, hash),
        };
        self.last
    }

    fn add(&mut self, name: &str, hash: u64) -> u32 {
        let number = u32::try_from(self.names.len()).unwrap_or(u32::MAX);
        self.names.push(name.to_owned());
        let (names, hasher) = (&self.names, &self.hasher);
        self.numbers.insert_unique(hash, number, |number| {
            hasher.hash_one(name_of(names, *number))
        });
        number
    }

    /// The number of `name`, if it has one.
    pub fn find(&self, name: &str) -> Option<u32> {
        self.find_hashed(name, self.hasher.hash_one(name))
    }

    fn find_hashed(&self, name: &str, hash: u64) -> Option<u32> {
        let same = |number: &u32| name_of(&self.names, *number) == name;
        self.numbers.find(hash, same).copied()
    }

    /// The name behind a number; empty for a number that was never given.
    pub fn name(&self, number: u32) -> &str {
        name_of(&self.names, number)
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

fn name_of(names: &[String], number: u32) -> &str {
    names.get(number as usize).map_or("", String::as_str)
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
