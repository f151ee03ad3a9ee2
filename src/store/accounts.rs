//! Accounts of the desk: names, roles, passwords as their hashes, and the children of clinicians.

use super::AccountId;
use super::ChildId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::unreadable;
use crate::seal::Salt;
use crate::study::AccountCode;
use crate::study::AccountName;
use crate::study::ChildCode;
use crate::study::Role;

/// An account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccountRow {
    /// The row; not looked at where a row is added.
    pub id: AccountId,
    /// The code under which the log knows it.
    pub code: AccountCode,
    /// The name under which the person signs in.
    pub name: AccountName,
    /// What she may do.
    pub role: Role,
    /// The password's hash in PHC form, once one is set.
    pub password: Option<String>,
    /// When it was made, in milliseconds since 1970 UTC.
    pub made_ms: i64,
    /// The salt of the row's commitment in the log.
    pub salt: Salt,
}

/// A child whom an account may read of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccountChildRow {
    /// The account.
    pub account: AccountId,
    /// The child.
    pub child: ChildCode,
    /// The salt of the row's commitment in the log.
    pub salt: Salt,
}

const ACCOUNTS: &str = "SELECT id, code, name, role, password, made_ms, salt FROM account";

fn account_from(row: &rusqlite::Row<'_>) -> Result<AccountRow, StoreError> {
    Ok(AccountRow {
        id: column(row, "id")?,
        code: parsed(row, "account", "code")?,
        name: parsed(row, "account", "name")?,
        role: parsed(row, "account", "role")?,
        password: column(row, "password")?,
        made_ms: column(row, "made_ms")?,
        salt: salt(row, "account")?,
    })
}

fn salt(row: &rusqlite::Row<'_>, table: &'static str) -> Result<Salt, StoreError> {
    let bytes: Vec<u8> = column(row, "salt")?;
    let length = bytes.len();
    let bytes = bytes
        .try_into()
        .map_err(|_| unreadable(table, "salt", &format!("{length} bytes")))?;
    Ok(Salt::new(bytes))
}

impl Reading<'_> {
    /// All accounts in the order of their names.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn accounts(&self) -> Result<Vec<AccountRow>, StoreError> {
        self.all(&format!("{ACCOUNTS} ORDER BY name"), &[], account_from)
    }

    /// The account of that name; upper and lower case are alike.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn account_named(&self, name: &str) -> Result<Option<AccountRow>, StoreError> {
        let sql = format!("{ACCOUNTS} WHERE name = :name");
        self.first(&sql, &[(":name", &name)], account_from)
    }

    /// The account of that code.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn account_coded(&self, code: &str) -> Result<Option<AccountRow>, StoreError> {
        let sql = format!("{ACCOUNTS} WHERE code = :code");
        self.first(&sql, &[(":code", &code)], account_from)
    }

    /// The account of that row.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn account(&self, id: AccountId) -> Result<Option<AccountRow>, StoreError> {
        let sql = format!("{ACCOUNTS} WHERE id = :id");
        self.first(&sql, &[(":id", &id)], account_from)
    }

    /// The children of every account.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn account_children(&self) -> Result<Vec<AccountChildRow>, StoreError> {
        self.all(
            "SELECT account_child.account_id, child.code AS code, account_child.salt
             FROM account_child JOIN child ON child.id = account_child.child_id
             ORDER BY account_child.account_id, child.code",
            &[],
            |row| {
                Ok(AccountChildRow {
                    account: column(row, "account_id")?,
                    child: parsed(row, "child", "code")?,
                    salt: salt(row, "account_child")?,
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Adds an account.
    ///
    /// # Errors
    /// [`StoreError`] if its code or name is taken or the row cannot be written.
    pub fn add_account(&self, account: &AccountRow) -> Result<AccountId, StoreError> {
        self.insert(
            "INSERT INTO account (code, name, role, password, made_ms, salt)
             VALUES (:code, :name, :role, :password, :made, :salt)",
            &[
                (":code", &account.code.as_str()),
                (":name", &account.name.as_str()),
                (":role", &account.role.as_str()),
                (":password", &account.password),
                (":made", &account.made_ms),
                (":salt", &account.salt.as_bytes().as_slice()),
            ],
        )
        .map(AccountId)
    }

    /// Writes an account's role, password and salt anew.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn change_account(&self, account: &AccountRow) -> Result<(), StoreError> {
        self.run(
            "UPDATE account SET role = :role, password = :password, salt = :salt WHERE id = :id",
            &[
                (":role", &account.role.as_str()),
                (":password", &account.password),
                (":salt", &account.salt.as_bytes().as_slice()),
                (":id", &account.id),
            ],
        )?;
        Ok(())
    }

    /// Removes an account, with its sessions, links and children.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be removed.
    pub fn remove_account(&self, id: AccountId) -> Result<(), StoreError> {
        self.run("DELETE FROM account WHERE id = :id", &[(":id", &id)])?;
        Ok(())
    }

    /// Lets an account read of a child.
    ///
    /// # Errors
    /// [`StoreError`] if it may already or the row cannot be written.
    pub fn give_child(
        &self,
        account: AccountId,
        child: ChildId,
        salt: &Salt,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO account_child (account_id, child_id, salt)
             VALUES (:account, :child, :salt)",
            &[
                (":account", &account),
                (":child", &child),
                (":salt", &salt.as_bytes().as_slice()),
            ],
        )?;
        Ok(())
    }

    /// Takes a child from an account.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be removed.
    pub fn take_child(&self, account: AccountId, child: ChildId) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM account_child WHERE account_id = :account AND child_id = :child",
            &[(":account", &account), (":child", &child)],
        )?;
        Ok(())
    }
}
