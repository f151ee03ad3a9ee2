//! The graphs of an unlocked round, each to be seen and downloaded as a picture.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::Response;

use super::turn::named;
use crate::app;
use crate::app::Person;
use crate::report;
use crate::report::Picture;
use crate::study::RoundName;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::picture;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/graphs.html")]
struct GraphsPage {
    frame: DeskFrame,
    round: RoundName,
    pictures: Vec<Picture>,
}

/// `GET /desk/rounds/{round}/graphs`.
pub(super) async fn graphs(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    let round = named(&round)?;
    html(&GraphsPage {
        frame: desk.frame(&person, Section::Rounds).await?,
        pictures: pictures_of(&desk, &round).await?,
        round,
    })
}

/// `POST /desk/rounds/{round}/graphs`: one graph as a picture.
pub(super) async fn download(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let pictures = pictures_of(&desk, &named(&round)?).await?;
    let mut pictures = pictures.into_iter();
    let wanted = pictures.find(|picture| picture.name == filled.text("graph"));
    picture::downloaded(&desk, person, wanted.ok_or(WebError::NotFound)?).await
}

async fn pictures_of(desk: &Desk, round: &RoundName) -> Result<Vec<Picture>, WebError> {
    let name = round.clone();
    let findings = desk
        .act(move |workspace| app::findings(workspace, &app::unlocked(workspace, &name)?))
        .await?;
    Ok(report::pictures(&findings.round))
}
