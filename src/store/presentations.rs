//! Presentations: the places of a sitting.

use super::ChildId;
use super::EnrolmentId;
use super::Reading;
use super::RoundId;
use super::RoundTokenId;
use super::SittingId;
use super::StoreError;
use super::Writing;
use super::rows::column;
use super::rows::parsed;
use super::rows::parsed_if_any;
use crate::seal::Salt;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::SetAside;

/// What has become of a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PresentationState {
    /// Its place is held.
    Reserved,
    /// It was judged.
    Judged,
    /// It was set aside with a reason.
    Aside,
    /// It was given back after idle time.
    Returned,
    /// It will never be heard.
    Dropped,
}

impl PresentationState {
    const ALL: [Self; 5] = [
        Self::Reserved,
        Self::Judged,
        Self::Aside,
        Self::Returned,
        Self::Dropped,
    ];

    /// As the table writes it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Reserved => "reserved",
            Self::Judged => "judged",
            Self::Aside => "aside",
            Self::Returned => "returned",
            Self::Dropped => "dropped",
        }
    }
}

impl std::str::FromStr for PresentationState {
    type Err = String;
    fn from_str(raw: &str) -> Result<Self, String> {
        let known = Self::ALL.into_iter().find(|state| state.as_str() == raw);
        known.ok_or_else(|| format!("`{raw}` is no state of a presentation"))
    }
}

/// A place in a sitting.
#[derive(Debug, Clone, PartialEq)]
pub struct PresentationRow {
    /// Its random name.
    pub id: PresentationId,
    /// The sitting.
    pub sitting: SittingId,
    /// The token in the round.
    pub token: RoundTokenId,
    /// Counted from 1.
    pub place: u32,
    /// The part of the sitting, counted from 1: one sound to judge.
    pub block: u32,
    /// What it is for.
    pub kind: PresentationKind,
    /// What has become of it.
    pub state: PresentationState,
    /// Why it was set aside.
    pub aside: Option<SetAside>,
    /// How often its sound was cut short: then it was dropped, and its word comes back elsewhere.
    pub voided: u32,
    /// The salt of its commitment.
    pub salt: Salt,
}

/// A place to add.
#[derive(Debug, Clone, PartialEq)]
pub struct NewPresentation {
    /// Its random name.
    pub id: PresentationId,
    /// The token in the round.
    pub token: RoundTokenId,
    /// Counted from 1.
    pub place: u32,
    /// The part of the sitting, counted from 1.
    pub block: u32,
    /// What it is for.
    pub kind: PresentationKind,
    /// The salt of its commitment.
    pub salt: Salt,
}

pub(super) const PRESENTATIONS: &str = "
    SELECT presentation.id, presentation.sitting_id, presentation.round_token_id,
           presentation.place, presentation.block, presentation.kind, presentation.state,
           presentation.aside, presentation.voided, presentation.salt
    FROM presentation";

pub(super) fn presentation_from(row: &rusqlite::Row<'_>) -> Result<PresentationRow, StoreError> {
    Ok(PresentationRow {
        id: PresentationId::new(column(row, "id")?),
        sitting: column(row, "sitting_id")?,
        token: column(row, "round_token_id")?,
        place: column(row, "place")?,
        block: column(row, "block")?,
        kind: parsed(row, "presentation", "kind")?,
        state: parsed(row, "presentation", "state")?,
        aside: parsed_if_any(row, "presentation", "aside")?,
        voided: column(row, "voided")?,
        salt: Salt::new(column(row, "salt")?),
    })
}

impl Reading<'_> {
    /// The places of a sitting in their order.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be read.
    pub fn presentations_of(&self, sitting: SittingId) -> Result<Vec<PresentationRow>, StoreError> {
        let sql =
            format!("{PRESENTATIONS} WHERE presentation.sitting_id = :sitting ORDER BY place");
        self.all(&sql, &[(":sitting", &sitting)], presentation_from)
    }

    /// A place, if it is this listener's.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be read.
    pub fn presentation_for(
        &self,
        enrolment: EnrolmentId,
        id: PresentationId,
    ) -> Result<Option<PresentationRow>, StoreError> {
        let sql = format!(
            "{PRESENTATIONS} JOIN sitting ON sitting.id = presentation.sitting_id
             WHERE presentation.id = :id AND sitting.enrolment_id = :enrolment"
        );
        self.first(
            &sql,
            &[(":id", &id.bytes()), (":enrolment", &enrolment)],
            presentation_from,
        )
    }
}

impl Writing<'_> {
    /// Adds a place, reserved.
    ///
    /// # Errors
    /// [`StoreError`] if the place is taken or the row cannot be written.
    pub fn add_presentation(
        &self,
        sitting: SittingId,
        new: &NewPresentation,
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO presentation (id, sitting_id, round_token_id, place, block, kind, state, salt)
             VALUES (:id, :sitting, :token, :place, :block, :kind, 'reserved', :salt)",
            &[
                (":id", &new.id.bytes()),
                (":sitting", &sitting),
                (":token", &new.token),
                (":place", &new.place),
                (":block", &new.block),
                (":kind", &new.kind.as_str()),
                (":salt", new.salt.as_bytes()),
            ],
        )?;
        Ok(())
    }

    /// Moves a place on.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn move_presentation(
        &self,
        id: PresentationId,
        to: PresentationState,
        aside: Option<SetAside>,
    ) -> Result<(), StoreError> {
        self.run(
            "UPDATE presentation SET state = :state, aside = :aside WHERE id = :id",
            &[
                (":state", &to.as_str()),
                (":aside", &aside.map(SetAside::as_str)),
                (":id", &id.bytes()),
            ],
        )?;
        Ok(())
    }

    /// Drops a place whose sound was cut short.
    ///
    /// # Errors
    /// [`StoreError`] if the row cannot be written.
    pub fn void_presentation(&self, id: PresentationId) -> Result<(), StoreError> {
        self.run(
            "UPDATE presentation SET state = 'dropped', voided = voided + 1 WHERE id = :id",
            &[(":id", &id.bytes())],
        )?;
        Ok(())
    }

    /// Drops every place of a round that waits for a word out of use, and what was to be played of
    /// it before the first question. Says which, with their sittings.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be written.
    pub fn drop_unused_places(
        &self,
        round: RoundId,
    ) -> Result<Vec<(SittingId, PresentationId)>, StoreError> {
        self.all(
            "UPDATE presentation SET state = 'dropped'
             WHERE state IN ('reserved', 'returned')
               AND round_token_id IN (SELECT id FROM round_token
                                      WHERE round_id = :round
                                        AND token_id NOT IN (SELECT token_id FROM in_use))
             RETURNING sitting_id, id",
            &[(":round", &round)],
            |row| {
                Ok((
                    column(row, "sitting_id")?,
                    PresentationId::new(column(row, "id")?),
                ))
            },
        )
    }

    /// Drops every place of a listener that waits for a child: she will not hear more of her. Says
    /// which.
    ///
    /// # Errors
    /// [`StoreError`] if the rows cannot be written.
    pub fn drop_places_of_child(
        &self,
        enrolment: EnrolmentId,
        child: ChildId,
    ) -> Result<Vec<PresentationId>, StoreError> {
        self.all(
            "UPDATE presentation SET state = 'dropped'
             WHERE state IN ('reserved', 'returned')
               AND sitting_id IN (SELECT id FROM sitting WHERE enrolment_id = :enrolment)
               AND round_token_id IN (SELECT round_token.id FROM round_token
                                      JOIN token ON token.id = round_token.token_id
                                      LEFT JOIN session ON session.id = token.session_id
                                      WHERE session.child_id = :child
                                         OR (token.session_id IS NULL AND token.speaker =
                                             (SELECT code FROM child WHERE id = :child)))
             RETURNING id",
            &[(":enrolment", &enrolment), (":child", &child)],
            |row| Ok(PresentationId::new(column(row, "id")?)),
        )
    }
}
