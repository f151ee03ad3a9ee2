//! A listener leaves: by her receipt nothing that she judged counts any more; by her code she is erased.

use askama::Template;
use axum::extract::Query;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use serde::Deserialize;

use super::Left;
use super::NOT_TICKED;
use crate::app;
use crate::app::ListenerPreview;
use crate::app::Now;
use crate::app::Person;
use crate::app::Withdrawal;
use crate::report::number;
use crate::study::ListenerCode;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/leaving/listener.html")]
struct ListenerPage {
    frame: DeskFrame,
    /// What was entered as a receipt.
    receipt: String,
    /// What was entered as a code.
    code: String,
    /// What there is of the listener of that code.
    there: Option<ListenerPreview>,
    /// Why nothing was done; empty where nothing was asked.
    problem: String,
}

/// Who is asked for.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    listener: String,
}

/// `GET /desk/listeners/withdraw?listener=`: what would go. Nothing is changed.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    let code = asked.listener.trim();
    if code.is_empty() {
        return Ok(html(&page)?.into_response());
    }
    code.clone_into(&mut page.code);
    match ListenerCode::new(code) {
        Err(invalid) => page.problem = invalid.to_string(),
        Ok(code) => {
            let there = desk
                .try_act(move |workspace| app::preview_listener(workspace, &code))
                .await?;
            match there {
                Ok(there) => page.there = Some(there),
                Err(refused) => page.problem = refused.to_string(),
            }
        }
    }
    answered(&page)
}

/// `POST /desk/listeners/withdraw`: by her receipt.
pub(super) async fn withdraw(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    filled.text("receipt").clone_into(&mut page.receipt);
    if filled.text("sure") != "yes" {
        NOT_TICKED.clone_into(&mut page.problem);
        return unprocessable(&page);
    }
    let (receipt, by, now) = (page.receipt.clone(), person.clone(), Now::read());
    let done = desk
        .act(move |workspace| app::withdraw_listener_by(workspace, &receipt, &by, now))
        .await?;
    let problem = match done {
        Withdrawal::Done { receipt } => {
            let address = desk
                .site
                .keep_left(&person, Left::listener_out(now, receipt));
            return Ok(Redirect::to(&address).into_response());
        }
        Withdrawal::Before => "This listener withdrew before: there is nothing left to do",
        Withdrawal::Mistyped => "This is no receipt: look for a sign that is missing or mistyped",
        Withdrawal::Unknown => {
            "No listener of this study was given that receipt: check that it is of this study, all of it"
        }
    };
    problem.clone_into(&mut page.problem);
    unprocessable(&page)
}

/// `POST /desk/listeners/erase`: by her code, for good.
pub(super) async fn erase(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    filled.text("listener").clone_into(&mut page.code);
    let code = match ListenerCode::new(&page.code) {
        _ if filled.text("sure") != "yes" => Err(NOT_TICKED.to_owned()),
        Ok(code) => Ok(code),
        Err(invalid) => Err(invalid.to_string()),
    };
    let code = match code {
        Ok(code) => code,
        Err(problem) => {
            page.problem = problem;
            return unprocessable(&page);
        }
    };
    let (by, now) = (person.clone(), Now::read());
    let erased = desk
        .try_act(move |workspace| app::erase_listener_by(workspace, &code, &by, now))
        .await?;
    match erased {
        Ok(erased) => {
            let left = Left::listener_erased(now, erased);
            let address = desk.site.keep_left(&person, left);
            Ok(Redirect::to(&address).into_response())
        }
        Err(refused) => {
            page.problem = refused.to_string();
            unprocessable(&page)
        }
    }
}

fn answered(page: &ListenerPage) -> Result<Response, WebError> {
    if page.problem.is_empty() {
        Ok(html(page)?.into_response())
    } else {
        unprocessable(page)
    }
}

async fn fresh(desk: &Desk, person: &Person) -> Result<ListenerPage, WebError> {
    Ok(ListenerPage {
        frame: desk.frame(person, Section::Rounds).await?,
        receipt: String::new(),
        code: String::new(),
        there: None,
        problem: String::new(),
    })
}
