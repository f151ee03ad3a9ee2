//! Before treatment: who is treated how and when is drawn, and sealed with what will be compared.

mod kind;
mod layout;
mod reading;

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::header;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Desk;
use super::form::Filled;
use super::form::Kind;
use super::form::Part;
use super::form::Values;
use super::form::sentences;
use super::frame::DeskFrame;
use super::frame::Section;
use super::routes::RESEARCHERS;
use super::routes::Routes;
use super::sign_in::unprocessable;
use crate::app;
use crate::app::Again;
use crate::app::AppError;
use crate::app::DrawMaterial;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::report;
use crate::report::number;
use crate::report::sheet;
use crate::study::AssignmentPlan;
use crate::web::WebError;
use crate::web::html;
use crate::web::standing;
use kind::DesignKind;

/// The routes of these pages.
pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/desk/draw", RESEARCHERS, overview)
        .get("/desk/draw/sheet", RESEARCHERS, draw_sheet)
        .get("/desk/draw/assignment.json", RESEARCHERS, file)
        .get("/desk/draw/design/{design}", RESEARCHERS, form)
        .post("/desk/draw/design/{design}", RESEARCHERS, fill)
}

#[derive(Template)]
#[template(path = "desk/draw/overview.html")]
struct OverviewPage {
    frame: DeskFrame,
    material: DrawMaterial,
    designs: &'static [DesignKind],
}

#[derive(Template)]
#[template(path = "desk/draw/form.html")]
struct FormPage {
    frame: DeskFrame,
    design: DesignKind,
    parts: Vec<Part>,
    /// Whether something was drawn before.
    again: bool,
    why: String,
    refused: Vec<String>,
    preview: Option<Preview>,
}

/// What is said before anything is drawn.
struct Preview {
    sentences: Vec<String>,
    /// What the button draws: the plan that is read here, and no other.
    digest: String,
    /// Whether this is another plan than the one that was read before.
    changed: bool,
}

/// `GET /desk/draw`: what was drawn, and what can be.
async fn overview(State(desk): State<Desk>, person: Person) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Study).await?;
    let material = desk.act(app::draw_material).await?;
    html(&OverviewPage {
        frame,
        material,
        designs: DesignKind::ALL,
    })
}

/// `GET /desk/draw/design/{design}`: the form of one design.
async fn form(
    State(desk): State<Desk>,
    person: Person,
    Path(design): Path<String>,
) -> Result<Html<String>, WebError> {
    let design = DesignKind::named(&design).ok_or(WebError::NotFound)?;
    let frame = desk.frame(&person, Section::Study).await?;
    let material = desk.act(app::draw_material).await?;
    let values = layout::fresh(design, &material);
    html(&FormPage {
        frame,
        design,
        parts: layout::parts(design, &values, &material, &[]),
        again: !material.drawn.is_empty(),
        why: String::new(),
        refused: Vec::new(),
        preview: None,
    })
}

/// `POST /desk/draw/design/{design}`: says what would be drawn among what, or draws.
async fn fill(
    State(desk): State<Desk>,
    person: Person,
    Path(design): Path<String>,
    sent: Filled,
) -> Result<Response, WebError> {
    let design = DesignKind::named(&design).ok_or(WebError::NotFound)?;
    let frame = desk.frame(&person, Section::Study).await?;
    let asked = Asked {
        draw: sent.text("do") == "draw",
        sure: sent.text("sure") == "yes",
        read: sent.text("plan").to_owned(),
        why: sent.text("why").trim().to_owned(),
    };
    let values = Values::new(sent.into_fields());
    let done = desk
        .act(move |workspace| draw_or_preview(workspace, design, &values, &asked, frame))
        .await?;
    match done {
        Done::Drawn => Ok(Redirect::to("/desk/draw/sheet").into_response()),
        Done::Shown(page) if page.preview.is_some() && page.refused.is_empty() => {
            Ok(html(&*page)?.into_response())
        }
        Done::Shown(page) => unprocessable(&*page),
    }
}

/// `GET /desk/draw/sheet`: what was drawn last, to be printed.
async fn draw_sheet(State(desk): State<Desk>) -> Result<Response, WebError> {
    let assigned = desk.act(app::assigned).await?;
    Ok(standing(sheet::page(&assigned.sheet)?, &report::policy()))
}

/// `GET /desk/draw/assignment.json`: the same for the commands on files.
async fn file(State(desk): State<Desk>) -> Result<Response, WebError> {
    let assigned = desk.act(app::assigned).await?;
    let named = [
        (header::CONTENT_TYPE, "application/json"),
        (
            header::CONTENT_DISPOSITION,
            "attachment; filename=\"assignment.json\"",
        ),
    ];
    Ok((named, app::write_assignment(&assigned.assignment)).into_response())
}

/// What came with the form beside the plan.
struct Asked {
    draw: bool,
    sure: bool,
    /// The digest of the plan that stood above the button.
    read: String,
    why: String,
}

enum Done {
    Drawn,
    Shown(Box<FormPage>),
}

fn draw_or_preview(
    workspace: &Workspace,
    design: DesignKind,
    values: &Values,
    asked: &Asked,
    frame: DeskFrame,
) -> Result<Done, AppError> {
    let material = app::draw_material(workspace)?;
    let (plan, problems) = reading::read(design, values, &material);
    let again = !material.drawn.is_empty();
    let mut page = FormPage {
        frame,
        design,
        parts: layout::parts(design, values, &material, &problems),
        again,
        why: asked.why.clone(),
        refused: Vec::new(),
        preview: None,
    };
    let Some(plan) = plan.filter(|_| problems.is_empty()) else {
        page.refused = vec!["Mend the fields that say what is wrong with them.".to_owned()];
        return Ok(Done::Shown(Box::new(page)));
    };
    let preview = match previewed(workspace, &plan, asked) {
        Ok(preview) => preview,
        Err(refused) => return refuse(page, refused),
    };
    if asked.draw && asked.sure && !preview.changed {
        let again = if again {
            Again::Because(asked.why.clone())
        } else {
            Again::No
        };
        if let Err(refused) = app::assign_plan(workspace, plan, again, Now::read()) {
            page.preview = Some(preview);
            return refuse(page, refused);
        }
        return Ok(Done::Drawn);
    }
    page.preview = Some(preview);
    Ok(Done::Shown(Box::new(page)))
}

fn previewed(
    workspace: &Workspace,
    plan: &AssignmentPlan,
    asked: &Asked,
) -> Result<Preview, AppError> {
    let found = app::preview_plan(workspace, plan.clone())?;
    let written = serde_json::to_string(plan).unwrap_or_default();
    let digest = app::digest_of(&written);
    Ok(Preview {
        sentences: sheet::before_it_is_drawn(&found.plan, &found.numbers),
        changed: asked.draw && asked.read != digest,
        digest,
    })
}

/// The page with what stands in the way; what is not the asker's fault goes on.
fn refuse(mut page: FormPage, refused: AppError) -> Result<Done, AppError> {
    if !refused.is_the_askers() {
        return Err(refused);
    }
    page.refused = sentences(&refused);
    Ok(Done::Shown(Box::new(page)))
}
