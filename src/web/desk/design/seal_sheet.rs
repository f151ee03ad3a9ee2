//! The seal sheet: to print or to send away, so that the seal lies elsewhere before anybody listens.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;

use super::words;
use super::words::Chapter;
use crate::app;
use crate::app::Person;
use crate::app::SealSheet;
use crate::report::number;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::clock;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/design/seal.html")]
struct SealPage {
    frame: DeskFrame,
    sheet: SealSheet,
    at: String,
    chapters: Vec<Chapter>,
    /// The batch of links that can still be shown, if there is one.
    links: Option<String>,
}

/// `GET /desk/rounds/{round}/seal`.
pub(in crate::web::desk) async fn seal_sheet(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let name = RoundName::new(&round).map_err(|_| WebError::NotFound)?;
    let frame = desk.frame(&person, Section::Rounds).await?;
    let links = desk.site.links_of(&person, &name);
    let sheet = desk
        .act(move |workspace| app::seal_sheet(workspace, &name))
        .await?;
    html(&SealPage {
        frame,
        at: clock::day_and_time(sheet.at),
        chapters: words::chapters(&sheet.plan, words::Reader::Elsewhere),
        links: links.into_iter().next().map(|links| links.id),
        sheet,
    })
}
