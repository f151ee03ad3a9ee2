//! The page of one child: what changed, how sure that is, what would settle it.

use askama::Template;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Hers;
use crate::app;
use crate::report::Picture;
use crate::report::clinic;
use crate::report::clinic::ChildSheet;
use crate::study::ChildCode;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::picture;
use crate::web::html;

#[derive(Template)]
#[template(path = "clinic/child.html")]
struct ChildPage {
    frame: DeskFrame,
    child: ChildCode,
    /// Nothing where no round with this child is unlocked.
    sheet: Option<ChildSheet>,
    age: Option<String>,
}

/// `GET /desk/children/{child}/outcome`.
pub(super) async fn outcome(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
) -> Result<Response, WebError> {
    let (sheet, age) = sheet_of(&desk, &child).await?;
    let page = ChildPage {
        frame: desk.frame(&person, Section::Study).await?,
        sheet,
        age,
        child,
    };
    Ok(html(&page)?.into_response())
}

/// `POST /desk/children/{child}/outcome`: the graph as a picture.
pub(super) async fn picture(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
) -> Result<Response, WebError> {
    let (sheet, _) = sheet_of(&desk, &child).await?;
    let drawn = Picture::of_child(child.as_str(), sheet.ok_or(WebError::NotFound)?.chart);
    picture::downloaded(&desk, person, drawn).await
}

/// The child's sheet, where a round with her is unlocked, and her age in words.
async fn sheet_of(
    desk: &Desk,
    child: &ChildCode,
) -> Result<(Option<ChildSheet>, Option<String>), WebError> {
    let wanted = child.clone();
    let found = desk
        .act(move |workspace| app::outcome_of_child(workspace, &wanted))
        .await?;
    let sheet = found.findings.as_ref();
    let age = found
        .age
        .map(|(months, session)| clinic::age(months, session));
    Ok((
        sheet.and_then(|found| clinic::child_sheet(found, child.as_str())),
        age,
    ))
}
