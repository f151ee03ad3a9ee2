//! What a family agreed to, and which of it a use of the child's recordings needs.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;

use super::Assent;
use super::ConsentVersion;
use super::Invalid;
use super::ListenerKind;
use super::Scope;
use super::Use;

/// One record of a consent. The last record of a child holds: a narrower one takes back.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Consent {
    /// The version of the text that was agreed to.
    pub version: ConsentVersion,
    /// The day of the signature.
    pub given_on: Date,
    /// Who may hear the child; nobody is a consent that was taken back.
    pub scopes: Scopes,
    /// What the child says of it.
    pub assent: Assent,
    /// Until when the recordings may be kept.
    pub keep_until: Option<Date>,
}

/// Scopes, each once. Written with spaces between them: `staff research remote`.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
#[serde(transparent)]
pub struct Scopes(BTreeSet<Scope>);

impl FromIterator<Scope> for Scopes {
    fn from_iter<I: IntoIterator<Item = Scope>>(scopes: I) -> Self {
        Self(scopes.into_iter().collect())
    }
}

impl Scopes {
    /// Whether this one is among them.
    pub fn holds(&self, scope: Scope) -> bool {
        self.0.contains(&scope)
    }

    /// Whether nobody may hear.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl fmt::Display for Scopes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<_> = self.0.iter().map(|scope| scope.as_str()).collect();
        f.write_str(&words.join(" "))
    }
}

impl FromStr for Scopes {
    type Err = Invalid;
    fn from_str(raw: &str) -> Result<Self, Invalid> {
        raw.split([' ', ';', '+'])
            .filter(|word| !word.is_empty())
            .map(str::parse)
            .collect()
    }
}

/// The scopes of which one is needed before a recording may be played: that rule, in one place.
///
/// ```text
/// scored and peer words, heard by naive listeners (lay people elsewhere)   remote
/// scored and peer words, heard by experts                                  research or staff
/// example, practice, warm-up and check words                               example
/// ```
///
/// Examples and the like are named by their speaker's code; one without a code is nobody of the
/// study, and whoever imported it answers for it.
pub const fn needed_scopes(use_: Use, kind: ListenerKind) -> &'static [Scope] {
    match (use_, kind) {
        (Use::Scored | Use::Peer, ListenerKind::Naive) => &[Scope::Remote],
        (Use::Scored | Use::Peer, ListenerKind::Expert) => &[Scope::Research, Scope::Staff],
        (Use::Example | Use::Practice | Use::WarmUp | Use::Check, _) => &[Scope::Example],
    }
}

impl Consent {
    /// Whether recordings of that use may be played to listeners of that kind.
    pub fn allows(&self, use_: Use, kind: ListenerKind) -> bool {
        let needed = needed_scopes(use_, kind);
        self.assent != Assent::Refused && needed.iter().any(|scope| self.scopes.holds(*scope))
    }

    /// Whether the recordings should be gone by that day.
    pub fn is_over(&self, today: Date) -> bool {
        self.keep_until.is_some_and(|last| last < today)
    }

    /// What is wrong with the record taken by itself.
    ///
    /// # Errors
    /// [`Invalid`] where the recordings were to be gone before the consent was given.
    pub fn check(&self) -> Result<(), Invalid> {
        match self.keep_until {
            Some(last) if last < self.given_on => Err(Invalid::new(
                format!(
                    "it ends on {last}, before it was given on {}",
                    self.given_on
                ),
                "check the two dates",
            )),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn consent(scopes: &str, assent: Assent) -> Consent {
        Consent {
            version: ConsentVersion::new("2").unwrap(),
            given_on: "2025-01-05".parse().unwrap(),
            scopes: scopes.parse().unwrap(),
            assent,
            keep_until: None,
        }
    }

    #[test]
    fn who_may_hear_follows_from_the_scopes_and_none_holds_another() {
        let cases = [
            ("remote", Use::Scored, ListenerKind::Naive, true),
            (
                "staff research example",
                Use::Scored,
                ListenerKind::Naive,
                false,
            ),
            ("staff", Use::Peer, ListenerKind::Expert, true),
            ("research", Use::Scored, ListenerKind::Expert, true),
            ("remote", Use::Scored, ListenerKind::Expert, false),
            (
                "staff;research;remote",
                Use::Check,
                ListenerKind::Naive,
                false,
            ),
            ("example", Use::Check, ListenerKind::Expert, true),
            ("", Use::Scored, ListenerKind::Expert, false),
        ];
        for (scopes, use_, kind, may) in cases {
            let given = consent(scopes, Assent::NotAsked);
            assert_eq!(given.allows(use_, kind), may, "{scopes} {use_} {kind}");
        }
    }

    #[test]
    fn a_child_who_does_not_want_it_is_not_heard() {
        let all = "staff research remote example";
        assert!(!consent(all, Assent::Refused).allows(Use::Scored, ListenerKind::Naive));
    }
}
