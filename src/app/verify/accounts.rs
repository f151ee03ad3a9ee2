//! Accounts of the desk: who was made, changed and removed, and of whose children each may read.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use super::Findings;
use super::story::text;
use crate::app::accounts;
use crate::seal::Event;
use crate::store::Reading;

/// What the log tells of accounts, by code.
#[derive(Default)]
pub(super) struct AccountsStory(BTreeMap<String, AccountStory>);

#[derive(Default)]
struct AccountStory {
    /// The commitment to its row.
    row: String,
    /// The commitments to its children.
    children: BTreeSet<String>,
}

impl AccountsStory {
    /// Hears an event; `None` where the program cannot have written it.
    pub(super) fn hear(&mut self, event: &Event, body: &Value) -> Option<()> {
        // Whoever did it has an account; a command on the machine itself has none.
        if let Some(by) = body.get("by").filter(|by| !by.is_null()) {
            self.0.get(by.as_str()?)?;
        }
        match event.kind.as_str() {
            "account made" => {
                let story = AccountStory {
                    row: text(body, "row")?,
                    ..AccountStory::default()
                };
                let before = self.0.insert(text(body, "account")?, story);
                before.is_none().then_some(())?;
            }
            "account changed" => self.of(body)?.row = text(body, "row")?,
            "account removed" => {
                self.0.remove(&text(body, "account")?)?;
            }
            "account child given" => {
                let row = text(body, "row")?;
                self.of(body)?.children.insert(row);
            }
            "account child taken" => {
                let row = text(body, "row")?;
                self.of(body)?.children.remove(&row).then_some(())?;
            }
            "signed in" | "signed out" | "signed out everywhere" | "access refused" => {
                self.of(body)?;
            }
            // Of no account: that of the first one, or a name that nobody has.
            "account link made" | "sign-in failed" | "sign-ins held off"
                if !body.get("account")?.is_null() =>
            {
                self.of(body)?;
            }
            _ => {}
        }
        Some(())
    }

    fn of(&mut self, body: &Value) -> Option<&mut AccountStory> {
        self.0.get_mut(body.get("account")?.as_str()?)
    }
}

/// Holds the accounts against the log. A child that is gone from an account takes a right away and gives none: it
/// was erased from the study.
pub(super) fn check(reading: &Reading<'_>, story: &AccountsStory, findings: &mut Findings) {
    let mut codes = BTreeMap::new();
    for account in findings.read(reading.accounts()) {
        let code = account.code.to_string();
        let row = accounts::row(&account).ok().map(|row| row.to_string());
        if story.0.get(&code).map(|told| &told.row) != row.as_ref() {
            findings.say(format!("account {code} is not as the log tells"));
        }
        codes.insert(account.id, account.code);
    }
    let there: BTreeSet<_> = codes.values().map(ToString::to_string).collect();
    for code in story.0.keys().filter(|code| !there.contains(*code)) {
        findings.say(format!("the log tells of account {code}, which is gone"));
    }
    for given in findings.read(reading.account_children()) {
        let Some(code) = codes.get(&given.account) else {
            continue;
        };
        let row = accounts::child_row(code, &given.child, &given.salt).ok();
        let told = story.0.get(code.as_str());
        if !told
            .zip(row)
            .is_some_and(|(told, row)| told.children.contains(&row.to_string()))
        {
            findings.say(format!(
                "account {code} may read of a child, and no event tells that it was given"
            ));
        }
    }
}
