//! What every page of the desk has around it: the study, where one is, who one is, where one can go.

use std::ops::Deref;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;

use super::Desk;
use super::routes::CLINIC;
use super::routes::EVERYBODY;
use super::routes::PREPARERS;
use super::routes::RESEARCHERS;
use super::routes::Who;
use crate::app::Person;
use crate::study::Role;
use crate::web::Frame;
use crate::web::WebError;

/// The parts of the desk, in the order of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Section {
    /// The study and its children.
    Study,
    /// Recordings and tokens.
    Recordings,
    /// Rounds, from their plan to their results.
    Rounds,
    /// Children of whoever reads, with what changed.
    Caseload,
    /// All children together.
    Outcome,
    /// Whether listeners' devices reach this machine.
    Reach,
    /// Who works here.
    People,
    /// The log.
    Audit,
    /// One's own account; no entry of the navigation.
    Account,
}

impl Section {
    /// Every part with its name, its address and who may open it.
    const ALL: &[(Self, &str, &str, Who)] = &[
        (Self::Study, "Study", "/desk", EVERYBODY),
        (
            Self::Recordings,
            "Recordings",
            "/desk/recordings",
            PREPARERS,
        ),
        (Self::Rounds, "Rounds", "/desk/rounds", RESEARCHERS),
        (Self::Caseload, "Caseload", "/desk/caseload", CLINIC),
        (Self::Outcome, "Outcome", "/desk/outcome", RESEARCHERS),
        (Self::Reach, "Reach", "/desk/reach", RESEARCHERS),
        (Self::People, "People", "/desk/people", RESEARCHERS),
        (Self::Audit, "Audit", "/desk/audit", RESEARCHERS),
    ];
}

/// One entry of the navigation.
pub(super) struct Entry {
    /// What it is called.
    pub(super) name: &'static str,
    /// Where it leads.
    pub(super) address: &'static str,
    /// Whether the page belongs to it.
    pub(super) here: bool,
}

/// The frame of a page of the desk: `desk/frame.html` asks for it under the name `frame`.
pub(super) struct DeskFrame {
    frame: Frame,
    /// The study's name.
    pub(super) study: String,
    /// The name of whoever is signed in.
    pub(super) name: String,
    /// What she may do.
    pub(super) role: Role,
    /// Where she can go.
    pub(super) entries: Vec<Entry>,
}

impl Deref for DeskFrame {
    type Target = Frame;
    fn deref(&self) -> &Frame {
        &self.frame
    }
}

impl Desk {
    /// The frame of a page in this part of the desk.
    pub(super) async fn frame(
        &self,
        person: &Person,
        section: Section,
    ) -> Result<DeskFrame, WebError> {
        // A study whose settings are wrong still has a desk, on which they can be mended.
        let study = self
            .act(|workspace| Ok(workspace.settings().map(|settings| settings.name)))
            .await?;
        let entries = Section::ALL
            .iter()
            .filter(|(.., who)| who.contains(&person.role))
            .map(|(part, name, address, _)| Entry {
                name,
                address,
                here: *part == section,
            })
            .collect();
        Ok(DeskFrame {
            frame: Frame::english(),
            study: study.unwrap_or_else(|_| "Study".to_owned()),
            name: person.name.clone(),
            role: person.role,
            entries,
        })
    }
}

/// Whoever is signed in; the door has let her in before any handler runs.
impl<S: Send + Sync> FromRequestParts<S> for Person {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        parts
            .extensions
            .get::<Self>()
            .cloned()
            .ok_or(WebError::NotFound)
    }
}
