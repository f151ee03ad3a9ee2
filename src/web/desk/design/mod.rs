//! A round is designed: a form with a forecast, the plan in plain words, the seal, the seal sheet.

mod layout;
mod plan_page;
mod preset;
mod reading;
mod seal_sheet;
mod view;
mod words;

pub(super) use plan_page::plan;
pub(super) use plan_page::seal;
pub(super) use seal_sheet::seal_sheet;

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Desk;
use super::form;
use super::frame::DeskFrame;
use super::frame::Section;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::planning;
use crate::app::planning::Material;
use crate::app::planning::Planned;
use crate::app::planning::RoundDraft;
use crate::web::WebError;
use crate::web::desk::form::Kind;
use crate::web::desk::form::Line;
use crate::web::desk::form::Part;
use crate::web::desk::form::Values;
use crate::web::html;
use layout::parts;
use preset::Preset;
use reading::Filled;
use view::ForecastView;
use view::ProofView;

/// The address of the form.
const FORM: &str = "/desk/rounds/new";
/// The address of the plan in plain words.
const PLAN: &str = "/desk/rounds/new/plan";

#[derive(Template)]
#[template(path = "desk/design/form.html")]
struct DesignPage {
    frame: DeskFrame,
    /// Whether the study has nothing to plan for: no two phases, or no word.
    barren: bool,
    parts: Vec<Part>,
    volunteers: [Line; 2],
    /// Fields that are wrong, in the order of the form, once their owner asked: name, label, what is wrong.
    wrong: Vec<(String, String, String)>,
    forecast: Option<ForecastView>,
    proof: Option<ProofView>,
    /// Whether a form is kept.
    kept: bool,
}

/// A form with all that is known of it.
pub(super) struct Looked {
    values: Values,
    kept: bool,
    asked: bool,
    material: Material,
    filled: Option<Filled>,
    planned: Option<Planned>,
}

/// `GET /desk/rounds/new`: the form as it was left, with its forecast.
pub(super) async fn form(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Rounds).await?;
    let looked = desk
        .act(move |workspace| look(workspace, planning::draft(workspace, &person)?))
        .await?;
    html(&page(frame, &looked))
}

/// `POST /desk/rounds/new`: keeps the form, whatever stands in it, and does what the button says.
pub(super) async fn fill(
    State(desk): State<Desk>,
    person: Person,
    sent: form::Filled,
) -> Result<Response, WebError> {
    let button = sent.text("do").to_owned();
    let values = Values::new(sent.into_fields());
    let next = match button.as_str() {
        "read" => PLAN,
        "forecast" => "/desk/rounds/new#forecast",
        _ if button.starts_with("take-") => "/desk/rounds/new#forecast",
        _ => FORM,
    };
    desk.act(move |workspace| {
        if button == "forget" {
            return planning::forget_draft(workspace, &person);
        }
        let values = changed(values, &button, workspace)?;
        let asked = matches!(button.as_str(), "forecast" | "read" | "");
        keep(workspace, &person, &values, asked)
    })
    .await?;
    Ok(Redirect::to(next).into_response())
}

/// `POST /desk/rounds/new/forecast`: the same page at once, for the script.
pub(super) async fn forecast(
    State(desk): State<Desk>,
    person: Person,
    sent: form::Filled,
) -> Result<Html<String>, WebError> {
    let frame = desk.frame(&person, Section::Rounds).await?;
    let values = Values::new(sent.into_fields());
    let looked = desk
        .act(move |workspace| {
            let before = planning::draft(workspace, &person)?;
            let asked = before.is_some_and(|draft| draft.asked);
            keep(workspace, &person, &values, asked)?;
            look(workspace, planning::draft(workspace, &person)?)
        })
        .await?;
    html(&page(frame, &looked))
}

/// The form as a button changes it: a preset, or what was found backwards.
fn changed(mut values: Values, button: &str, workspace: &Workspace) -> Result<Values, AppError> {
    let material = planning::material(workspace)?;
    if let Some(preset) = Preset::named(button) {
        preset.put(&mut values, &material);
    }
    if let Some(words) = button.strip_prefix("take-") {
        take_over(&mut values, words, &material, workspace)?;
    }
    Ok(values)
}

/// Takes over one line of what volunteers can prove.
fn take_over(
    values: &mut Values,
    words: &str,
    material: &Material,
    workspace: &Workspace,
) -> Result<(), AppError> {
    let Some(filled) = reading::read(values, material).filter(Filled::can_be_forecast) else {
        return Ok(());
    };
    let planned = planning::forecast(workspace, &filled.plan, filled.volunteers.as_ref())?;
    let wanted = words.parse::<u32>().ok();
    let lines = planned.proof.into_iter().flat_map(|proof| proof.lines);
    let line = lines.into_iter().find(|line| line.drawn == wanted);
    let (Some(line), Some(volunteers)) = (line, filled.volunteers) else {
        return Ok(());
    };
    let drawn = line.drawn.map(|words| words.to_string());
    values.set("sample-words", &drawn.unwrap_or_default());
    values.set("judgements", &line.judgements_per_token.to_string());
    values.set("tokens", &line.main.to_string());
    values.set("invited", &volunteers.listeners.to_string());
    values.set("open", "");
    values.set("sittings", "1");
    Ok(())
}

fn keep(
    workspace: &Workspace,
    person: &Person,
    values: &Values,
    asked: bool,
) -> Result<(), AppError> {
    let draft = RoundDraft {
        fields: values.fields().to_vec(),
        asked,
    };
    planning::keep_draft(workspace, person, &draft, Now::read())
}

/// Reads a form, or begins one, and forecasts it where its numbers are right.
fn look(workspace: &Workspace, draft: Option<RoundDraft>) -> Result<Looked, AppError> {
    let material = planning::material(workspace)?;
    let kept = draft.is_some();
    let asked = draft.as_ref().is_some_and(|draft| draft.asked);
    let values = match draft {
        Some(draft) => Values::new(draft.fields),
        None => Preset::Naive.fresh(&material),
    };
    let filled = reading::read(&values, &material);
    let planned = match &filled {
        Some(filled) if filled.can_be_forecast() => {
            let volunteers = filled.volunteers.as_ref();
            Some(planning::forecast(workspace, &filled.plan, volunteers)?)
        }
        _ => None,
    };
    Ok(Looked {
        values,
        kept,
        asked,
        material,
        filled,
        planned,
    })
}

fn page(frame: DeskFrame, looked: &Looked) -> DesignPage {
    let all = looked
        .filled
        .as_ref()
        .map(|filled| filled.problems.as_slice());
    let shown: Vec<_> = all
        .unwrap_or_default()
        .iter()
        .filter(|problem| looked.asked || !problem.missing)
        .cloned()
        .collect();
    let mut parts = parts(&looked.values, &looked.material, &shown);
    let volunteers = layout::volunteers(&looked.values, &shown);
    let lines = parts.iter_mut().flat_map(Part::all_lines);
    let wrong = lines
        .map(|line| &*line)
        .chain(&volunteers)
        .filter(|line| !line.error.is_empty())
        .map(|line| (line.name.clone(), line.label.clone(), line.error.clone()))
        .collect();
    let both = looked.filled.as_ref().zip(looked.planned.as_ref());
    DesignPage {
        frame,
        barren: looked.material.phases.len() < 2 || looked.material.scored() == 0,
        wrong,
        forecast: both.map(|(filled, planned)| ForecastView::new(&filled.plan, planned)),
        proof: both.and_then(|(filled, planned)| {
            let proof = planned.proof.as_ref()?;
            Some(ProofView::new(&filled.plan, proof))
        }),
        parts,
        volunteers,
        kept: looked.kept,
    }
}
