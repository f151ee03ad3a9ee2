//! The study at a look: all children under each other, ways of treating side by side.

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::Response;

use crate::app;
use crate::app::Person;
use crate::report::Picture;
use crate::report::clinic;
use crate::report::clinic::StudySheet;
use crate::study::StudySettings;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::picture;
use crate::web::html;

#[derive(Template)]
#[template(path = "clinic/study.html")]
struct StudyPage {
    frame: DeskFrame,
    /// Nothing where no round is unlocked.
    sheet: Option<StudySheet>,
    settings: StudySettings,
}

/// `GET /desk/outcome`.
pub(super) async fn study(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Outcome).await?;
    let (found, settings) = desk
        .act(|workspace| Ok((app::outcome_of_study(workspace)?, workspace.settings()?)))
        .await?;
    html(&StudyPage {
        frame,
        sheet: found.as_ref().map(clinic::study_sheet),
        settings,
    })
}

/// `POST /desk/outcome`: the graph of all children as a picture.
pub(super) async fn picture(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Response, WebError> {
    let found = desk.act(app::outcome_of_study).await?;
    let sheet = found.as_ref().map(clinic::study_sheet);
    let drawn = Picture::of_all(sheet.ok_or(WebError::NotFound)?.chart);
    picture::downloaded(&desk, person, drawn).await
}

impl StudyPage {
    /// What a way of treating was, in the study's own words.
    fn cue(&self, cohort: &str) -> &str {
        let mut cues = self.settings.cues.iter();
        let known = cues.find(|(known, _)| known.as_str() == cohort);
        known.map_or(
            "Not described: write what it was under [cues] in study.toml.",
            |(_, cue)| cue,
        )
    }
}
