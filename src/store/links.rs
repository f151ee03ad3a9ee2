//! Links: the open ones with their caps, links taken back, and browsers that are forgotten.

use super::ChildId;
use super::EnrolmentId;
use super::ListenerId;
use super::OpenLinkId;
use super::Reading;
use super::RoundId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use crate::seal::Salt;
use crate::study::ListenerKind;

/// An open link of a round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenLinkRow {
    /// The row.
    pub id: OpenLinkId,
    /// The round.
    pub round: RoundId,
    /// Its number, counted from 1 in its round.
    pub number: u32,
    /// What its listeners are.
    pub kind: ListenerKind,
    /// How many listeners may come by it.
    pub cap: u32,
    /// SHA-256 of the secret in it, in hex.
    pub link_sha256: String,
    /// Until when it lets anybody in.
    pub expires_ms: Option<i64>,
    /// When it was taken back.
    pub revoked_ms: Option<i64>,
    /// Listeners who came by it.
    pub enrolled: u32,
}

/// An open link to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewOpenLink {
    /// Its number, counted from 1 in its round.
    pub number: u32,
    /// What its listeners are.
    pub kind: ListenerKind,
    /// How many listeners may come by it.
    pub cap: u32,
    /// SHA-256 of the secret in it, in hex.
    pub link_sha256: String,
    /// Until when it lets anybody in.
    pub expires_ms: Option<i64>,
}

const OPEN_LINKS: &str = "
    SELECT open_link.id, open_link.round_id, open_link.number, open_link.kind, open_link.cap,
           open_link.link_sha256, open_link.expires_ms, open_link.revoked_ms,
           (SELECT count(*) FROM enrolment WHERE enrolment.open_link_id = open_link.id) AS enrolled
    FROM open_link";

fn open_link_from(row: &rusqlite::Row<'_>) -> Result<OpenLinkRow, StoreError> {
    Ok(OpenLinkRow {
        id: column(row, "id")?,
        round: column(row, "round_id")?,
        number: column(row, "number")?,
        kind: parsed(row, "open_link", "kind")?,
        cap: column(row, "cap")?,
        link_sha256: column(row, "link_sha256")?,
        expires_ms: column(row, "expires_ms")?,
        revoked_ms: column(row, "revoked_ms")?,
        enrolled: column(row, "enrolled")?,
    })
}

impl Reading<'_> {
    /// The open links of a round in the order of their numbers.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn open_links(&self, round: RoundId) -> Result<Vec<OpenLinkRow>, StoreError> {
        let sql =
            format!("{OPEN_LINKS} WHERE open_link.round_id = :round ORDER BY open_link.number");
        self.all(&sql, &[(":round", &round)], open_link_from)
    }

    /// The open link that holds the secret with that digest.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn open_link_by_secret(
        &self,
        link_sha256: &str,
    ) -> Result<Option<OpenLinkRow>, StoreError> {
        let sql = format!("{OPEN_LINKS} WHERE open_link.link_sha256 = :link");
        self.first(&sql, &[(":link", &link_sha256)], open_link_from)
    }
}

impl Writing<'_> {
    /// Makes an open link.
    ///
    /// # Errors
    /// [`StoreError`] if its number or its secret is taken or the row cannot be written.
    pub fn add_open_link(
        &self,
        round: RoundId,
        new: &NewOpenLink,
    ) -> Result<OpenLinkId, StoreError> {
        self.insert(
            "INSERT INTO open_link (round_id, number, kind, cap, link_sha256, expires_ms)
             VALUES (:round, :number, :kind, :cap, :link, :expires)",
            &[
                (":round", &round),
                (":number", &new.number),
                (":kind", &new.kind.as_str()),
                (":cap", &new.cap),
                (":link", &new.link_sha256),
                (":expires", &new.expires_ms),
            ],
        )
        .map(OpenLinkId)
    }

    /// Takes an open link back: nobody comes by it any more.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn revoke_open_link(&self, link: OpenLinkId, now_ms: i64) -> Result<(), StoreError> {
        self.run(
            "UPDATE open_link SET revoked_ms = :now WHERE id = :link",
            &[(":now", &now_ms), (":link", &link)],
        )?;
        Ok(())
    }

    /// Takes a listener's own link back: it opens nothing, and neither does any cookie of hers.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn revoke_enrolment(&self, enrolment: EnrolmentId, now_ms: i64) -> Result<(), StoreError> {
        self.run(
            "UPDATE enrolment SET revoked_ms = :now WHERE id = :enrolment",
            &[(":now", &now_ms), (":enrolment", &enrolment)],
        )?;
        Ok(())
    }

    /// Bars a listener who was invited after the seal from a child; the log commits to it.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn bar_after_seal(
        &self,
        listener: ListenerId,
        child: ChildId,
        salt: &Salt,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO bar (listener_id, child_id, why, since_ms, salt)
             VALUES (:listener, :child, 'barred', :now, :salt)",
            &[
                (":listener", &listener),
                (":child", &child),
                (":now", &now_ms),
                (":salt", salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Pauses a round, or lets it go on.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn set_paused(&self, round: RoundId, paused: bool) -> Result<(), StoreError> {
        self.run(
            "UPDATE round SET paused = :paused WHERE id = :round",
            &[(":paused", &paused), (":round", &round)],
        )?;
        Ok(())
    }

    /// Forgets a browser: its cookie is worth nothing any more.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn end_visit(&self, cookie_sha256: &str) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM visit WHERE cookie_sha256 = :cookie",
            &[(":cookie", &cookie_sha256)],
        )?;
        Ok(())
    }
}
