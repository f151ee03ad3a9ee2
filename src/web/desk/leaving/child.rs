//! A child leaves: her recordings are used no more, or erased.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Left;
use super::NOT_TICKED;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Preview;
use crate::report::number;
use crate::study::ChildCode;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

/// As many files stand in the open; a longer list is folded, so that the form stays in sight (ours).
const FEW: usize = 6;

#[derive(Template)]
#[template(path = "desk/leaving/child.html")]
struct ChildPage {
    frame: DeskFrame,
    child: ChildCode,
    there: Preview,
    /// Whether she is out of use already, so that she can only be erased.
    stopped: bool,
    /// Why nothing was done; empty where nothing was asked.
    problem: String,
}

/// `GET /desk/children/{child}/withdraw`: what would go. Nothing is changed.
pub(super) async fn preview(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&page(&desk, &person, named(&code)?, String::new()).await?)
}

/// `POST /desk/children/{child}/withdraw`.
pub(super) async fn withdraw(
    State(desk): State<Desk>,
    person: Person,
    Path(code): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let child = named(&code)?;
    let problem = match asked(&filled, &child) {
        Err(problem) => problem.to_owned(),
        Ok(how) => {
            let (code, by) = (child.clone(), person.clone());
            let done = desk
                .try_act(move |workspace| how.done(workspace, &code, &by))
                .await?;
            match done {
                Ok(left) => {
                    let address = desk.site.keep_left(&person, left);
                    return Ok(Redirect::to(&address).into_response());
                }
                Err(wrong) => wrong.to_string(),
            }
        }
    };
    unprocessable(&page(&desk, &person, child, problem).await?)
}

/// What is to become of the recordings.
#[derive(Clone, Copy)]
enum How {
    /// Kept, and in no result.
    Stop,
    /// Gone for good.
    Erase,
}

impl How {
    fn done(
        self,
        workspace: &app::Workspace,
        code: &ChildCode,
        by: &Person,
    ) -> Result<Left, AppError> {
        let now = Now::read();
        match self {
            Self::Stop => {
                let receipt = app::stop_using_child_by(workspace, code, by, now)?;
                Ok(Left::stopped(now, receipt))
            }
            Self::Erase => {
                let erased = app::erase_child_by(workspace, code, by, now)?;
                Ok(Left::child_erased(now, erased))
            }
        }
    }
}

fn asked(filled: &Filled, child: &ChildCode) -> Result<How, &'static str> {
    let how = match filled.text("how") {
        "stop" => How::Stop,
        "erase" => How::Erase,
        _ => return Err("Nothing was done: choose what is to become of the recordings"),
    };
    if filled.text("sure") != "yes" {
        return Err(NOT_TICKED);
    }
    if filled.text("code").trim() != child.as_str() {
        return Err("Nothing was done: the code in the last line is not the code of this child");
    }
    Ok(how)
}

fn named(code: &str) -> Result<ChildCode, WebError> {
    ChildCode::new(code).map_err(|_| WebError::NotFound)
}

async fn page(
    desk: &Desk,
    person: &Person,
    child: ChildCode,
    problem: String,
) -> Result<ChildPage, WebError> {
    let code = child.clone();
    let (there, stopped) = desk
        .act(move |workspace| {
            let children = app::children(workspace)?;
            let known = children.iter().find(|known| known.code == code);
            let stopped = known.is_some_and(|known| known.stopped);
            Ok((app::preview_withdrawal(workspace, &code)?, stopped))
        })
        .await?;
    Ok(ChildPage {
        frame: desk.frame(person, Section::Study).await?,
        child,
        there,
        stopped,
        problem,
    })
}
