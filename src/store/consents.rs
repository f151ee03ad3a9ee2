//! What staff note of children: labels, consents, whether they are out of use.

use super::ChildId;
use super::Reading;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::seal::Salt;
use crate::study::ChildCode;
use crate::study::ChildLabel;
use crate::study::Consent;

/// A record of a consent, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConsentRow {
    /// The child's row.
    pub child: ChildId,
    /// The child's code.
    pub code: ChildCode,
    /// What was agreed to.
    pub consent: Consent,
    /// The salt of its digest in the log.
    pub salt: Salt,
}

/// A child who is out of use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoppedRow {
    /// The child's row.
    pub child: ChildId,
    /// The child's code.
    pub code: ChildCode,
    /// Since when.
    pub since_ms: i64,
    /// The salt of its digest in the log.
    pub salt: Option<Salt>,
}

impl Reading<'_> {
    /// Every record of a consent, in the order in which they were noted.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn consents(&self) -> Result<Vec<ConsentRow>, StoreError> {
        self.all(
            "SELECT consent.child_id, child.code, consent.version, consent.given_on,
                    consent.scopes, consent.assent, consent.keep_until, consent.salt
             FROM consent JOIN child ON child.id = consent.child_id
             ORDER BY consent.id",
            &[],
            |row| {
                Ok(ConsentRow {
                    child: column(row, "child_id")?,
                    code: parsed(row, "child", "code")?,
                    consent: Consent {
                        version: parsed(row, "consent", "version")?,
                        given_on: parsed(row, "consent", "given_on")?,
                        scopes: parsed(row, "consent", "scopes")?,
                        assent: parsed(row, "consent", "assent")?,
                        keep_until: parsed_if_any(row, "consent", "keep_until")?,
                    },
                    salt: Salt::new(column(row, "salt")?),
                })
            },
        )
    }

    /// What the desk calls its children: for the eyes of the desk alone.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn child_labels(&self) -> Result<Vec<(ChildCode, ChildLabel)>, StoreError> {
        self.all(
            "SELECT code, label FROM child WHERE label IS NOT NULL ORDER BY code",
            &[],
            |row| {
                Ok((
                    parsed(row, "child", "code")?,
                    parsed(row, "child", "label")?,
                ))
            },
        )
    }

    /// The children who are out of use.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn stopped_children(&self) -> Result<Vec<StoppedRow>, StoreError> {
        self.all(
            "SELECT id, code, stopped_ms, stopped_salt FROM child
             WHERE stopped_ms IS NOT NULL ORDER BY code",
            &[],
            |row| {
                Ok(StoppedRow {
                    child: column(row, "id")?,
                    code: parsed(row, "child", "code")?,
                    since_ms: column(row, "stopped_ms")?,
                    salt: column::<Option<[u8; 16]>>(row, "stopped_salt")?.map(Salt::new),
                })
            },
        )
    }
}

impl Writing<'_> {
    /// Adds a record of a consent.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn add_consent(
        &self,
        child: ChildId,
        consent: &Consent,
        salt: &Salt,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO consent (child_id, version, given_on, scopes, assent, keep_until, salt)
             VALUES (:child, :version, :given, :scopes, :assent, :until, :salt)",
            &[
                (":child", &child),
                (":version", &consent.version.as_str()),
                (":given", &consent.given_on.to_string()),
                (":scopes", &consent.scopes.to_string()),
                (":assent", &consent.assent.as_str()),
                (":until", &consent.keep_until.map(|date| date.to_string())),
                (":salt", salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Gives a child a label, or takes it away.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn set_child_label(
        &self,
        child: ChildId,
        label: Option<&ChildLabel>,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE child SET label = :label WHERE id = :child",
            &[
                (":label", &label.map(ChildLabel::as_str)),
                (":child", &child),
            ],
        )?;
        Ok(())
    }

    /// Takes a child out of use.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn stop_child(&self, child: ChildId, now_ms: i64, salt: &Salt) -> Result<(), StoreError> {
        self.run(
            "UPDATE child SET stopped_ms = :now, stopped_salt = :salt WHERE id = :child",
            &[
                (":now", &now_ms),
                (":salt", salt.as_bytes()),
                (":child", &child),
            ],
        )?;
        Ok(())
    }
}
