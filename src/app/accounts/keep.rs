//! Accounts: who there is, with which role and which children.

use std::collections::BTreeSet;

use serde_json::json;

use super::commitment;
use super::person::Person;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::store::AccountRow;
use crate::store::Reading;
use crate::store::Writing;
use crate::study::AccountCode;
use crate::study::AccountName;
use crate::study::ChildCode;
use crate::study::Role;

/// What an account may do: a role, and of a clinician her children.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rights {
    /// Everything.
    Researcher,
    /// Recordings and tokens.
    Preparer,
    /// Reads of these children.
    Clinician(BTreeSet<ChildCode>),
}

impl Rights {
    /// A role with the children that were named for it.
    ///
    /// # Errors
    /// [`AppError::Refused`] if children are named for a role that reads of all of them, or a clinician has none.
    pub fn new(role: Role, children: BTreeSet<ChildCode>) -> Result<Self, AppError> {
        match (role, children.is_empty()) {
            (Role::Clinician, false) => Ok(Self::Clinician(children)),
            (Role::Researcher, true) => Ok(Self::Researcher),
            (Role::Preparer, true) => Ok(Self::Preparer),
            (Role::Clinician, true) => Err(AppError::refused(
                "a clinician reads of named children alone, and none is named",
                "name the children whom she treats",
            )),
            (_, false) => Err(AppError::refused(
                format!("children are named for a {role}, who may read of all of them"),
                "leave the children out, or take the role clinician",
            )),
        }
    }

    /// The role.
    pub const fn role(&self) -> Role {
        match self {
            Self::Researcher => Role::Researcher,
            Self::Preparer => Role::Preparer,
            Self::Clinician(_) => Role::Clinician,
        }
    }

    fn children(self) -> BTreeSet<ChildCode> {
        match self {
            Self::Clinician(children) => children,
            Self::Researcher | Self::Preparer => BTreeSet::new(),
        }
    }
}

/// An account as lists show it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Account {
    /// The code under which the log knows it.
    pub code: AccountCode,
    /// The name under which the person signs in.
    pub name: AccountName,
    /// What she may do.
    pub role: Role,
    /// Of a clinician: the children whom she may read of.
    pub children: BTreeSet<ChildCode>,
    /// Whether a password is set.
    pub has_password: bool,
    /// When it was made, in milliseconds since 1970 UTC.
    pub made_ms: i64,
}

/// All accounts, by name.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn accounts(workspace: &Workspace) -> Result<Vec<Account>, AppError> {
    workspace.store().read(|reading| {
        let rows = reading.accounts()?;
        rows.into_iter().map(|row| told(reading, row)).collect()
    })
}

/// Makes an account without a password; a one-time link sets it. `by`: who does it at the desk; `None` for a command on
/// the machine itself, here and in the acts below.
///
/// # Errors
/// [`AppError::Refused`] if the name is taken or a child is not in the study.
pub fn add_account(
    workspace: &Workspace,
    name: &AccountName,
    rights: Rights,
    by: Option<&Person>,
    now: Now,
) -> Result<Account, AppError> {
    let (name, by) = (name.clone(), code_of(by));
    workspace.store().write(move |writing| {
        let account = add(writing, name, rights, None, by.as_deref(), now)?;
        told(writing, account)
    })
}

/// Gives an account another role, or other children.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account, a child is not in the study, or nobody would be left who
/// can do everything.
pub fn change_rights(
    workspace: &Workspace,
    name: &AccountName,
    rights: Rights,
    by: Option<&Person>,
    now: Now,
) -> Result<Account, AppError> {
    let (name, by) = (name.clone(), code_of(by));
    workspace.store().write(move |writing| {
        let mut account = named(writing, &name)?;
        if rights.role() != Role::Researcher {
            keep_one_researcher(writing, &account)?;
        }
        account.role = rights.role();
        change(writing, account.clone(), "role", by.as_deref(), now)?;
        set_children(writing, &account, &rights.children(), by.as_deref(), now)?;
        told(writing, account)
    })
}

/// Removes an account; whoever was signed in with it is out.
///
/// # Errors
/// [`AppError::Refused`] if there is no such account, or nobody would be left who can do everything.
pub fn remove_account(
    workspace: &Workspace,
    name: &AccountName,
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    let (name, by) = (name.clone(), code_of(by));
    workspace.store().write(move |writing| {
        let account = named(writing, &name)?;
        keep_one_researcher(writing, &account)?;
        set_children(writing, &account, &BTreeSet::new(), by.as_deref(), now)?;
        // Told before it is done: she may remove herself.
        let body = json!({ "account": account.code, "by": by });
        log::append(writing, now, "account removed", &body)?;
        writing.remove_account(account.id)?;
        Ok(())
    })
}

/// Adds an account inside a job that writes.
pub(super) fn add(
    writing: &Writing<'_>,
    name: AccountName,
    rights: Rights,
    password: Option<String>,
    by: Option<&str>,
    now: Now,
) -> Result<AccountRow, AppError> {
    if writing.account_named(name.as_str())?.is_some() {
        return Err(AppError::refused(
            format!("there is an account with the name {name} already"),
            "take another name",
        ));
    }
    let mut account = AccountRow {
        id: crate::store::AccountId::default(),
        code: AccountCode::new(&secret::account_code())
            .map_err(|error| AppError::Unreadable(error.to_string()))?,
        name,
        role: rights.role(),
        password,
        made_ms: now.ms(),
        salt: secret::salt(),
    };
    account.id = writing.add_account(&account)?;
    let row = commitment::row(&account)?;
    let body = json!({ "account": account.code, "role": account.role, "row": row, "by": by });
    log::append(writing, now, "account made", &body)?;
    set_children(writing, &account, &rights.children(), by, now)?;
    Ok(account)
}

/// Writes an account anew, under a fresh salt, and tells what of it changed.
pub(super) fn change(
    writing: &Writing<'_>,
    mut account: AccountRow,
    what: &str,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    account.salt = secret::salt();
    writing.change_account(&account)?;
    let row = commitment::row(&account)?;
    let body = json!({
        "account": account.code,
        "role": account.role,
        "row": row,
        "what": what,
        "by": by,
    });
    log::append(writing, now, "account changed", &body)?;
    Ok(())
}

fn set_children(
    writing: &Writing<'_>,
    account: &AccountRow,
    wanted: &BTreeSet<ChildCode>,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    let all = writing.children()?;
    let id_of = |code: &ChildCode| {
        let found = all.iter().find(|child| child.code == *code);
        found.map(|child| child.id).ok_or_else(|| {
            AppError::refused(
                format!("there is no child {code} in this study"),
                "name a child by the code of the manifest",
            )
        })
    };
    let mut has = BTreeSet::new();
    for given in writing.account_children()? {
        if given.account != account.id {
            continue;
        }
        if !wanted.contains(&given.child) {
            writing.take_child(account.id, id_of(&given.child)?)?;
            let row = commitment::child_row(&account.code, &given.child, &given.salt)?;
            let body = json!({ "account": account.code, "row": row, "by": by });
            log::append(writing, now, "account child taken", &body)?;
        }
        has.insert(given.child);
    }
    for child in wanted.difference(&has) {
        let salt = secret::salt();
        writing.give_child(account.id, id_of(child)?, &salt)?;
        let row = commitment::child_row(&account.code, child, &salt)?;
        let body = json!({ "account": account.code, "row": row, "by": by });
        log::append(writing, now, "account child given", &body)?;
    }
    Ok(())
}

/// Refuses to take its role from the last account that can do everything.
fn keep_one_researcher(reading: &Reading<'_>, account: &AccountRow) -> Result<(), AppError> {
    let others = reading.accounts()?.into_iter().any(|other| {
        other.id != account.id && other.role == Role::Researcher && other.password.is_some()
    });
    if account.role == Role::Researcher && account.password.is_some() && !others {
        return Err(AppError::refused(
            format!(
                "{} is the last account that can do everything",
                account.name
            ),
            "make another researcher first, and let her set her password",
        ));
    }
    Ok(())
}

/// The code of whoever acts at the desk.
pub(super) fn code_of(by: Option<&Person>) -> Option<String> {
    by.map(|person| person.code.clone())
}

/// The account of that name.
pub(super) fn named(reading: &Reading<'_>, name: &AccountName) -> Result<AccountRow, AppError> {
    reading.account_named(name.as_str())?.ok_or_else(|| {
        AppError::refused(
            format!("there is no account with the name {name}"),
            "`fairhearing account list` tells which there are",
        )
    })
}

/// The account of that code.
pub(super) fn coded(reading: &Reading<'_>, code: &str) -> Result<AccountRow, AppError> {
    reading.account_coded(code)?.ok_or_else(|| {
        AppError::refused(
            "there is no such account any more",
            "look at the list of people again",
        )
    })
}

/// The children of an account.
pub(super) fn children_of(
    reading: &Reading<'_>,
    account: &AccountRow,
) -> Result<BTreeSet<ChildCode>, AppError> {
    let rows = reading.account_children()?.into_iter();
    Ok(rows
        .filter(|row| row.account == account.id)
        .map(|row| row.child)
        .collect())
}

fn told(reading: &Reading<'_>, row: AccountRow) -> Result<Account, AppError> {
    Ok(Account {
        children: children_of(reading, &row)?,
        code: row.code,
        name: row.name,
        role: row.role,
        has_password: row.password.is_some(),
        made_ms: row.made_ms,
    })
}
