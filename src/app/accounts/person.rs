//! A person at the desk, as every act and page knows her.

use std::collections::BTreeSet;

use crate::study::ChildCode;
use crate::study::Role;

/// A person who is signed in at the desk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// The random code under which the log knows her.
    pub code: String,
    /// The name under which she signs in; it stays on this machine and out of the log.
    pub name: String,
    /// What she may do.
    pub role: Role,
    /// Of a clinician: the children whom she may read of.
    pub children: BTreeSet<ChildCode>,
}

impl Person {
    /// Whether she may read of this child.
    pub fn may_see(&self, child: &ChildCode) -> bool {
        self.role != Role::Clinician || self.children.contains(child)
    }
}
