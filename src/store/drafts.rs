//! Rounds that are being designed: a form a person, until it is sealed or forgotten.

use super::AccountId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;

impl Reading<'_> {
    /// What stands in the form of an account, as JSON; nothing where it designs no round.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn round_draft(&self, account: AccountId) -> Result<Option<String>, StoreError> {
        self.first(
            "SELECT fields FROM round_draft WHERE account_id = :account",
            &[(":account", &account)],
            |row| column(row, "fields"),
        )
    }
}

impl Writing<'_> {
    /// Keeps what stands in the form of an account, instead of what stood there before.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn keep_round_draft(
        &self,
        account: AccountId,
        fields: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO round_draft (account_id, fields, changed_ms) VALUES (:account, :fields, :now)
             ON CONFLICT (account_id) DO UPDATE SET fields = :fields, changed_ms = :now",
            &[
                (":account", &account),
                (":fields", &fields),
                (":now", &now_ms),
            ],
        )?;
        Ok(())
    }

    /// Forgets what stands in everybody's forms.
    ///
    /// # Errors
    /// [`StoreError`] if a row cannot be removed.
    pub fn forget_round_drafts(&self) -> Result<(), StoreError> {
        self.run("DELETE FROM round_draft", &[])?;
        Ok(())
    }

    /// Forgets what stands in the form of an account.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be removed.
    pub fn forget_round_draft(&self, account: AccountId) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM round_draft WHERE account_id = :account",
            &[(":account", &account)],
        )?;
        Ok(())
    }
}
