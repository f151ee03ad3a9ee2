//! Words that are left out with a reason before anybody judged them.

use std::collections::BTreeSet;

use super::Reading;
use super::StoreError;
use super::TokenId;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::Exclusion;

/// A word that was excluded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExclusionRow {
    /// The token.
    pub token: TokenId,
    /// SHA-256 of its decoded samples.
    pub samples_sha256: String,
    /// Why.
    pub reason: Exclusion,
    /// Since when.
    pub since_ms: Option<i64>,
    /// The salt of its digest in the log.
    pub salt: Option<Salt>,
}

impl Reading<'_> {
    /// The words that are excluded, in the order in which they were imported.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn exclusions(&self) -> Result<Vec<ExclusionRow>, StoreError> {
        self.all(
            "SELECT id, samples_sha256, excluded, excluded_ms, excluded_salt FROM token
             WHERE excluded IS NOT NULL ORDER BY id",
            &[],
            |row| {
                Ok(ExclusionRow {
                    token: column(row, "id")?,
                    samples_sha256: column(row, "samples_sha256")?,
                    reason: parsed(row, "token", "excluded")?,
                    since_ms: column(row, "excluded_ms")?,
                    salt: column::<Option<[u8; 16]>>(row, "excluded_salt")?.map(Salt::new),
                })
            },
        )
    }

    /// Whether anybody judged a token, in any round.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn was_judged(&self, token: TokenId) -> Result<bool, StoreError> {
        let found = self.first(
            "SELECT 1 AS found FROM judgement
             JOIN presentation ON presentation.id = judgement.presentation_id
             JOIN round_token ON round_token.id = presentation.round_token_id
             WHERE round_token.token_id = :token",
            &[(":token", &token)],
            |row| column::<i64>(row, "found"),
        )?;
        Ok(found.is_some())
    }

    /// The tokens that somebody judged, in any round.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn judged_tokens(&self) -> Result<BTreeSet<TokenId>, StoreError> {
        let found = self.all(
            "SELECT DISTINCT round_token.token_id
             FROM judgement
             JOIN presentation ON presentation.id = judgement.presentation_id
             JOIN round_token ON round_token.id = presentation.round_token_id",
            &[],
            |row| column(row, "token_id"),
        )?;
        Ok(found.into_iter().collect())
    }
}

impl Writing<'_> {
    /// Excludes a token.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn exclude(
        &self,
        token: TokenId,
        reason: Exclusion,
        now_ms: i64,
        salt: &Salt,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE token SET excluded = :reason, excluded_ms = :now, excluded_salt = :salt
             WHERE id = :token",
            &[
                (":reason", &reason.as_str()),
                (":now", &now_ms),
                (":salt", salt.as_bytes()),
                (":token", &token),
            ],
        )?;
        Ok(())
    }

    /// Takes a token in again.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn include(&self, token: TokenId) -> Result<(), StoreError> {
        self.run(
            "UPDATE token SET excluded = NULL, excluded_ms = NULL, excluded_salt = NULL
             WHERE id = :token",
            &[(":token", &token)],
        )?;
        Ok(())
    }
}
