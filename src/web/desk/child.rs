//! One child as it was recorded. A clinician reads of her own children alone.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use super::door;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app;
use crate::app::Person;
use crate::app::RecordedChild;
use crate::report::number;
use crate::study::ChildCode;
use crate::study::Role;
use crate::web::WebError;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/child.html")]
struct ChildPage {
    frame: DeskFrame,
    child: RecordedChild,
}

/// `GET /desk/children/{child}`.
pub(super) async fn child(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Response, WebError> {
    let code = ChildCode::new(&code).map_err(|_| WebError::NotFound)?;
    if !person.may_see(&code) {
        return Ok(door::not_for_this_person());
    }
    let recorded = desk.act(app::recorded).await?;
    let child = recorded
        .children
        .into_iter()
        .find(|child| child.code == code.as_str())
        .ok_or(WebError::NotFound)?;
    let frame = desk.frame(&person, Section::Study).await?;
    Ok(html(&ChildPage { frame, child })?.into_response())
}

impl ChildPage {
    fn words(&self) -> String {
        let words = self.child.sessions.iter().map(|(.., words)| words).sum();
        number::counted(words, "word")
    }
}
