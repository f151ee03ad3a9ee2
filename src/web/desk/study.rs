//! The study and its children, as they were recorded.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app;
use crate::app::ConsentLack;
use crate::app::Consented;
use crate::app::Now;
use crate::app::Person;
use crate::app::Recorded;
use crate::report::number;
use crate::study::Role;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/study.html")]
struct StudyPage {
    frame: DeskFrame,
    recorded: Recorded,
    /// For researchers: every child, with what her consent lacks.
    consented: Vec<Consented>,
}

/// `GET /desk`: the study; a clinician sees her own children in it.
pub(super) async fn study(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Study).await?;
    let mut recorded = desk.act(app::recorded).await?;
    recorded
        .children
        .retain(|child| child.code.parse().is_ok_and(|code| person.may_see(&code)));
    let consented = match person.role {
        Role::Researcher => {
            desk.act(|workspace| app::consented(workspace, Now::read()))
                .await?
        }
        Role::Preparer | Role::Clinician => Vec::new(),
    };
    html(&StudyPage {
        frame,
        recorded,
        consented,
    })
}

impl StudyPage {
    fn nothing_is_lacking(&self) -> bool {
        self.consented.iter().all(|one| one.lack.is_none())
    }

    /// The children whose consent lacks this.
    fn lacking(&self, lack: ConsentLack) -> Vec<&Consented> {
        let children = self.consented.iter();
        children.filter(|one| one.lack == Some(lack)).collect()
    }

    fn next(&self) -> &'static str {
        match (self.frame.role, self.recorded.children.is_empty()) {
            (Role::Clinician, true) => {
                "Ask the researcher to give you the children whom you treat: you see none yet."
            }
            (Role::Clinician, false) => "Look at what was recorded of the children whom you treat.",
            (_, true) => "Import the recordings of the first sessions.",
            (_, false) => "Look through the recordings, then plan a round.",
        }
    }
}
