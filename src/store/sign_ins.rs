//! Signing in: one-time addresses, sessions of browsers, and the tries of the last minutes.

use super::AccountId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;

/// A browser that is signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SessionOfAccount {
    /// The account.
    pub account: AccountId,
    /// When it signed in, in milliseconds since 1970 UTC.
    pub begun_ms: i64,
    /// When it was last heard of.
    pub last_ms: i64,
}

/// What a one-time address is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AccountLink {
    /// The first account.
    First,
    /// A new password of this account.
    Password(AccountId),
}

/// How often somebody tried to sign in lately.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tries {
    /// For this name from this address.
    pub here: u32,
    /// For any name from this address.
    pub address: u32,
    /// For this name from anywhere.
    pub name: u32,
    /// Whether the log tells already that this address was held off.
    pub told: bool,
}

impl Reading<'_> {
    /// The session whose cookie holds the secret with that digest.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn session_of_account(
        &self,
        secret_sha256: &str,
    ) -> Result<Option<SessionOfAccount>, StoreError> {
        self.first(
            "SELECT account_id, begun_ms, last_ms FROM account_session WHERE secret_sha256 = :secret",
            &[(":secret", &secret_sha256)],
            |row| {
                Ok(SessionOfAccount {
                    account: column(row, "account_id")?,
                    begun_ms: column(row, "begun_ms")?,
                    last_ms: column(row, "last_ms")?,
                })
            },
        )
    }

    /// What the one-time address is for that holds the secret with that digest. One that has expired is not there.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn account_link(
        &self,
        secret_sha256: &str,
        now_ms: i64,
    ) -> Result<Option<AccountLink>, StoreError> {
        self.first(
            "SELECT account_id FROM account_link
             WHERE secret_sha256 = :secret AND (expires_ms IS NULL OR expires_ms > :now)",
            &[(":secret", &secret_sha256), (":now", &now_ms)],
            |row| {
                let account: Option<AccountId> = column(row, "account_id")?;
                Ok(account.map_or(AccountLink::First, AccountLink::Password))
            },
        )
    }

    /// The tries since a moment.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn sign_in_tries(
        &self,
        name_sha256: &str,
        came_from: &str,
        since_ms: i64,
    ) -> Result<Tries, StoreError> {
        let found = self.first(
            "SELECT coalesce(sum(NOT told AND name_sha256 = :name AND came_from = :address), 0) AS here,
                    coalesce(sum(NOT told AND came_from = :address), 0) AS address,
                    coalesce(sum(NOT told AND name_sha256 = :name), 0) AS name,
                    coalesce(max(told AND came_from = :address), 0) AS told
             FROM sign_in_try WHERE at_ms > :since",
            &[
                (":name", &name_sha256),
                (":address", &came_from),
                (":since", &since_ms),
            ],
            |row| {
                Ok(Tries {
                    here: column(row, "here")?,
                    address: column(row, "address")?,
                    name: column(row, "name")?,
                    told: column(row, "told")?,
                })
            },
        )?;
        Ok(found.unwrap_or_default())
    }
}

impl Writing<'_> {
    /// Keeps a session.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn begin_session_of_account(
        &self,
        secret_sha256: &str,
        account: AccountId,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO account_session (secret_sha256, account_id, begun_ms, last_ms)
             VALUES (:secret, :account, :now, :now)",
            &[
                (":secret", &secret_sha256),
                (":account", &account),
                (":now", &now_ms),
            ],
        )?;
        Ok(())
    }

    /// Notes that a session was heard of.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn touch_session_of_account(
        &self,
        secret_sha256: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE account_session SET last_ms = max(last_ms, :now) WHERE secret_sha256 = :secret",
            &[(":secret", &secret_sha256), (":now", &now_ms)],
        )?;
        Ok(())
    }

    /// Ends one session; says how many there were: one or none.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be removed.
    pub fn end_session_of_account(&self, secret_sha256: &str) -> Result<usize, StoreError> {
        self.run(
            "DELETE FROM account_session WHERE secret_sha256 = :secret",
            &[(":secret", &secret_sha256)],
        )
    }

    /// Ends every session of an account; says how many there were.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be removed.
    pub fn end_sessions_of_account(&self, account: AccountId) -> Result<usize, StoreError> {
        self.run(
            "DELETE FROM account_session WHERE account_id = :account",
            &[(":account", &account)],
        )
    }

    /// Removes the sessions that are older, or were longer silent, than these moments allow.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be removed.
    pub fn end_old_sessions_of_accounts(
        &self,
        begun_before_ms: i64,
        silent_since_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM account_session WHERE begun_ms <= :begun OR last_ms <= :silent",
            &[(":begun", &begun_before_ms), (":silent", &silent_since_ms)],
        )?;
        Ok(())
    }

    /// Keeps a one-time address and forgets those that the same account had before.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn offer_account_link(
        &self,
        secret_sha256: &str,
        account: Option<AccountId>,
        expires_ms: Option<i64>,
    ) -> Result<(), StoreError> {
        self.forget_account_links(account)?;
        self.run(
            "INSERT INTO account_link (secret_sha256, account_id, expires_ms)
             VALUES (:secret, :account, :expires)",
            &[
                (":secret", &secret_sha256),
                (":account", &account),
                (":expires", &expires_ms),
            ],
        )?;
        Ok(())
    }

    /// Forgets the one-time addresses of an account, or (of none) that of the first account.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be removed.
    pub fn forget_account_links(&self, account: Option<AccountId>) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM account_link WHERE account_id IS :account",
            &[(":account", &account)],
        )?;
        Ok(())
    }

    /// Notes a try to sign in.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn note_sign_in_try(
        &self,
        name_sha256: &str,
        came_from: &str,
        told: bool,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO sign_in_try (at_ms, name_sha256, came_from, told)
             VALUES (:now, :name, :address, :told)",
            &[
                (":now", &now_ms),
                (":name", &name_sha256),
                (":address", &came_from),
                (":told", &told),
            ],
        )?;
        Ok(())
    }

    /// Forgets the tries for a name from an address: it signed in.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be removed.
    pub fn forget_sign_in_tries(
        &self,
        name_sha256: &str,
        came_from: &str,
    ) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM sign_in_try WHERE name_sha256 = :name AND came_from = :address",
            &[(":name", &name_sha256), (":address", &came_from)],
        )?;
        Ok(())
    }

    /// Forgets the tries up to a moment.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be removed.
    pub fn forget_old_sign_in_tries(&self, until_ms: i64) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM sign_in_try WHERE at_ms <= :until",
            &[(":until", &until_ms)],
        )?;
        Ok(())
    }
}
