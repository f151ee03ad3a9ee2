//! The recordings: what they are for, which are missing, which have a remark.

use askama::Template;
use axum::extract::State;
use axum::response::Html;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app;
use crate::app::Person;
use crate::app::Recorded;
use crate::report::number;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/recordings.html")]
struct RecordingsPage {
    frame: DeskFrame,
    recorded: Recorded,
}

/// `GET /desk/recordings`.
pub(super) async fn recordings(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Recordings).await?;
    let recorded = desk.act(app::recorded).await?;
    html(&RecordingsPage { frame, recorded })
}

impl RecordingsPage {
    fn tokens_of(&self) -> String {
        if self.recorded.uses.is_empty() {
            return "No recording is here yet".to_owned();
        }
        let uses = self.recorded.uses.iter();
        let said: Vec<String> = uses
            .map(|(use_, n)| format!("{} {use_}", number::count(*n)))
            .collect();
        said.join(", ")
    }

    fn next(&self) -> &'static str {
        if self.recorded.uses.is_empty() {
            "Import the recordings of the first sessions with their manifest."
        } else {
            "Hear what has a remark and decide whether it can be judged, then plan a round."
        }
    }
}
