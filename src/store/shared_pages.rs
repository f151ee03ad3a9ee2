//! Pages of a child behind links that run out.

use super::ChildId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::ChildCode;

/// A child's page behind a link.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SharedPageRow {
    /// Its number in the study.
    pub number: u32,
    /// Whose it is.
    pub child: ChildCode,
    /// The digest of the secret in its link.
    pub secret_sha256: String,
    /// When it was made.
    pub made_ms: i64,
    /// From when it is shown no more.
    pub expires_ms: i64,
    /// When it was taken back.
    pub revoked_ms: Option<i64>,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

const PAGES: &str =
    "SELECT shared_page.id, child.code, secret_sha256, made_ms, expires_ms, revoked_ms, salt
                     FROM shared_page JOIN child ON child.id = shared_page.child_id";

fn page_from(row: &rusqlite::Row<'_>) -> Result<SharedPageRow, StoreError> {
    Ok(SharedPageRow {
        number: column(row, "id")?,
        child: parsed(row, "child", "code")?,
        secret_sha256: column(row, "secret_sha256")?,
        made_ms: column(row, "made_ms")?,
        expires_ms: column(row, "expires_ms")?,
        revoked_ms: column(row, "revoked_ms")?,
        salt: Salt::new(column(row, "salt")?),
    })
}

impl Reading<'_> {
    /// Every page behind a link, in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn shared_pages(&self) -> Result<Vec<SharedPageRow>, StoreError> {
        self.all(&format!("{PAGES} ORDER BY shared_page.id"), &[], page_from)
    }

    /// The page behind the link whose secret has this digest.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn shared_page(&self, secret_sha256: &str) -> Result<Option<SharedPageRow>, StoreError> {
        let sql = format!("{PAGES} WHERE secret_sha256 = :secret");
        self.first(&sql, &[(":secret", &secret_sha256)], page_from)
    }
}

impl Writing<'_> {
    /// Adds a page of a child; its number is given by the store.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_shared_page(&self, child: ChildId, page: &SharedPageRow) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO shared_page (child_id, secret_sha256, made_ms, expires_ms, salt)
             VALUES (:child, :secret, :made, :expires, :salt)",
            &[
                (":child", &child),
                (":secret", &page.secret_sha256),
                (":made", &page.made_ms),
                (":expires", &page.expires_ms),
                (":salt", page.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Takes a page back.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn revoke_shared_page(&self, number: u32, at_ms: i64) -> Result<(), StoreError> {
        self.run(
            "UPDATE shared_page SET revoked_ms = :at WHERE id = :number",
            &[(":at", &at_ms), (":number", &number)],
        )?;
        Ok(())
    }
}
