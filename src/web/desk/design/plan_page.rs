//! The plan in plain words, and its seal.

use askama::Template;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::FORM;
use super::look;
use super::view::ForecastView;
use super::words;
use super::words::Chapter;
use crate::app;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Sealed;
use crate::app::Workspace;
use crate::app::planning;
use crate::study::Plan;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::form::Filled;
use crate::web::desk::form::sentences;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::fresh_links::FreshLinks;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/design/plan.html")]
struct PlanPage {
    frame: DeskFrame,
    round: String,
    chapters: Vec<Chapter>,
    forecast: ForecastView,
    /// The plan as the file that the command reads.
    file: String,
    /// What the button seals: the plan that is read here, and no other.
    digest: String,
    /// What consents and retention ask to be looked at.
    notices: Vec<String>,
    /// Why it was not sealed; empty for nothing.
    refused: Vec<String>,
}

/// A form that is complete, read and forecast.
struct Ready {
    plan: Plan,
    forecast: ForecastView,
    file: String,
}

/// `GET /desk/rounds/new/plan`: the plan in plain words; the form again where it is not complete.
pub(in crate::web::desk) async fn plan(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Response, WebError> {
    match plan_page(&desk, &person).await? {
        Some(page) => Ok(html(&page)?.into_response()),
        None => Ok(Redirect::to(FORM).into_response()),
    }
}

/// `POST /desk/rounds/new/seal`: the act of `seal`, on the plan that was read.
pub(in crate::web::desk) async fn seal(
    State(desk): State<Desk>,
    person: Person,
    sent: Filled,
) -> Result<Response, WebError> {
    let digest = sent.text("plan").to_owned();
    let by = person.clone();
    let sealed = desk
        .try_act(move |workspace| seal_as_read(workspace, &by, &digest))
        .await?;
    match sealed {
        Ok(Some(sealed)) => {
            let address = of_round(&sealed.round, "seal");
            let fresh = FreshLinks::new(&person, sealed.round, sealed.links, sealed.open_link);
            desk.site.keep_links(fresh);
            Ok(Redirect::to(&address).into_response())
        }
        Ok(None) => Ok(Redirect::to(FORM).into_response()),
        Err(refused) => match plan_page(&desk, &person).await? {
            Some(mut page) => {
                page.refused = sentences(&refused);
                unprocessable(&page)
            }
            None => Ok(Redirect::to(FORM).into_response()),
        },
    }
}

async fn plan_page(desk: &Desk, person: &Person) -> Result<Option<PlanPage>, WebError> {
    let frame = desk.frame(person, Section::Rounds).await?;
    let person = person.clone();
    let (ready, notices) = desk
        .act(move |workspace| {
            let notices = app::notices(workspace, Now::read())?;
            Ok((ready(workspace, &person)?, notices))
        })
        .await?;
    Ok(ready.map(|ready| PlanPage {
        frame,
        notices: [notices, ready.forecast.notices.clone()].concat(),
        round: ready.plan.round.to_string(),
        chapters: words::chapters(&ready.plan, words::Reader::Desk),
        digest: app::digest_of(&ready.file),
        forecast: ready.forecast,
        file: ready.file,
        refused: Vec::new(),
    }))
}

/// The plan in a person's form; nothing where the form is not complete, which it then tells.
fn ready(workspace: &Workspace, person: &Person) -> Result<Option<Ready>, AppError> {
    let looked = look(workspace, planning::draft(workspace, person)?)?;
    let (Some(filled), Some(planned)) = (looked.filled, looked.planned) else {
        super::keep(workspace, person, &looked.values, true)?;
        return Ok(None);
    };
    if !filled.problems.is_empty() {
        super::keep(workspace, person, &looked.values, true)?;
        return Ok(None);
    }
    let plan = filled.plan.settled();
    Ok(Some(Ready {
        forecast: ForecastView::new(&plan, &planned),
        file: planning::plan_as_file(&plan)?,
        plan,
    }))
}

fn seal_as_read(
    workspace: &Workspace,
    person: &Person,
    digest: &str,
) -> Result<Option<Sealed>, AppError> {
    let Some(ready) = ready(workspace, person)? else {
        return Ok(None);
    };
    if app::digest_of(&ready.file) != digest {
        return Err(AppError::refused(
            "the plan was changed after you opened this page",
            "read it once more and seal it then",
        ));
    }
    let sealed = app::seal_plan(workspace, ready.plan, Now::read())?;
    planning::forget_draft(workspace, person)?;
    Ok(Some(sealed))
}
