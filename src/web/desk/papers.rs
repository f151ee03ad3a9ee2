//! Papers for an ethics board and for those who take part, made from the study.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::Response;

use super::Desk;
use super::frame::DeskFrame;
use super::frame::Section;
use super::routes::RESEARCHERS;
use super::routes::Routes;
use crate::app::Now;
use crate::app::Person;
use crate::folder;
use crate::report;
use crate::report::Paper;
use crate::web::WebError;
use crate::web::html;
use crate::web::standing;

/// The routes of these pages.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/desk/papers", RESEARCHERS, papers)
        .get("/desk/papers/{paper}", RESEARCHERS, paper)
}

#[derive(Template)]
#[template(path = "desk/papers.html")]
struct PapersPage {
    frame: DeskFrame,
    papers: &'static [Paper],
}

/// `GET /desk/papers`: which there are.
async fn papers(State(desk): State<Desk>, person: Person) -> Result<Html<String>, WebError> {
    html(&PapersPage {
        frame: desk.frame(&person, Section::Study).await?,
        papers: Paper::ALL,
    })
}

/// `GET /desk/papers/{paper}`: one of them, to be printed.
async fn paper(State(desk): State<Desk>, Path(paper): Path<String>) -> Result<Response, WebError> {
    let paper = Paper::named(&paper).ok_or(WebError::NotFound)?;
    let facts = desk
        .act(|workspace| folder::paper_facts(workspace, Now::read()))
        .await?;
    Ok(standing(
        report::paper(paper, &facts)?,
        &report::papers_policy(),
    ))
}
