//! Rows: looked at one by one, changed, left out with a reason, removed, added, or made of the files' names.

use std::collections::BTreeMap;

use askama::Template;
use axum::Form;
use axum::extract::Path;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::response::Html;
use axum::response::Redirect;
use axum::response::Response;
use serde::Deserialize;

use super::pages;
use super::refusing;
use crate::app::Person;
use crate::app::staging;
use crate::app::staging::Composing;
use crate::app::staging::Mend;
use crate::app::staging::StagedRow;
use crate::app::staging::StagingId;
use crate::study::Problem;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

type Filled<T> = Result<Form<T>, FormRejection>;

/// The columns that a row can have, in the order of the page, each with what it means.
const COLUMNS: &[(&str, &str)] = &[
    ("file", "The recording's file"),
    ("child", "The child's code"),
    ("session", "The session's number"),
    ("phase", "The phase"),
    ("word", "The word, judged letters in [brackets]"),
    ("attempt", "Which try; empty is the first"),
    ("use", "What it is for; empty is scored"),
    ("answer", "The known answer of a check, practice or example"),
    ("cohort", "The child's way of treating"),
    (
        "condition",
        "The session's way of treating, where ways alternate",
    ),
    ("date", "The day, year-month-day"),
    ("target", "The sound, where it is not the study's"),
    ("position", "Its position in the word"),
    ("treated", "Whether the word was practised: true or false"),
    ("elicitation", "named, imitated, read or sentence"),
    ("age_months", "The child's age in months"),
    ("clinician_score", "How it was scored in the session"),
    ("reason", "Why there is no recording"),
];

/// Why a word has no recording, as the page offers it.
pub(super) const REASONS: &[&str] = &[
    "no response",
    "wrong word",
    "not recorded",
    "recording unusable",
    "child was absent",
];

#[derive(Template)]
#[template(path = "desk/import_row.html")]
struct RowPage {
    frame: DeskFrame,
    import: String,
    row: StagedRow,
    fields: Vec<Field>,
    problems: Vec<Problem>,
    reasons: &'static [&'static str],
}

/// A cell as the form shows it.
struct Field {
    column: &'static str,
    means: &'static str,
    value: String,
    wrong: bool,
}

/// `GET /desk/import/{id}/rows/{line}`: one row, to be mended.
pub(super) async fn row(
    State(desk): State<Desk>,
    person: Person,
    Path((id, line)): Path<(String, u64)>,
) -> Result<Html<String>, WebError> {
    let id = pages::id_in(&id)?;
    let staged = pages::look(&desk, &id).await?;
    let problems = pages::problems(&desk, &id, &staged);
    let problems: Vec<Problem> = problems
        .into_iter()
        .filter(|problem| problem.line() == Some(line))
        .collect();
    let row = staged.rows.iter().find(|row| row.line == line);
    let row = row.ok_or(WebError::NotFound)?.clone();
    let fields = COLUMNS.iter().map(|(column, means)| {
        let place = staged.columns.iter().position(|name| name == column);
        let value = place.and_then(|place| row.cells.get(place));
        Field {
            column,
            means,
            value: value.cloned().unwrap_or_default(),
            wrong: problems.iter().any(|p| p.column() == Some(column)),
        }
    });
    html(&RowPage {
        frame: desk.frame(&person, Section::Recordings).await?,
        import: pages::address(&id),
        fields: fields.collect(),
        row,
        problems,
        reasons: REASONS,
    })
}

/// `POST /desk/import/{id}/rows/{line}`: other values for its columns.
pub(super) async fn change(
    State(desk): State<Desk>,
    person: Person,
    Path((id, line)): Path<(String, u64)>,
    filled: Filled<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let Form(values) = filled.map_err(|_| WebError::Unreadable)?;
    let values = of_columns(values);
    let id = pages::free(&desk, &id)?;
    let back = pages::address_of_row(&id, line);
    mended(&desk, &person, id, Mend::Change { line, values }, &back).await
}

/// Only values of columns that a manifest has.
fn of_columns(values: BTreeMap<String, String>) -> BTreeMap<String, String> {
    let known = |name: &String| COLUMNS.iter().any(|(column, _)| column == name);
    let kept = values.into_iter().filter(|(name, _)| known(name));
    kept.map(|(name, value)| (name, value.trim().to_owned()))
        .collect()
}

#[derive(Deserialize)]
pub(super) struct Why {
    reason: String,
    #[serde(default)]
    other: String,
}

/// `POST /desk/import/{id}/rows/{line}/without`: the word counts as missing, and why.
pub(super) async fn leave_out(
    State(desk): State<Desk>,
    person: Person,
    Path((id, line)): Path<(String, u64)>,
    filled: Filled<Why>,
) -> Result<Response, WebError> {
    let Form(why) = filled.map_err(|_| WebError::Unreadable)?;
    let said = if why.other.trim().is_empty() {
        why.reason
    } else {
        why.other
    };
    let reason = said.trim().to_owned();
    let id = pages::free(&desk, &id)?;
    let back = pages::address_of_row(&id, line);
    mended(&desk, &person, id, Mend::LeaveOut { line, reason }, &back).await
}

/// `POST /desk/import/{id}/rows/{line}/remove`: the row goes.
pub(super) async fn remove(
    State(desk): State<Desk>,
    person: Person,
    Path((id, line)): Path<(String, u64)>,
) -> Result<Response, WebError> {
    let id = pages::free(&desk, &id)?;
    let back = pages::address_of_row(&id, line);
    mended(&desk, &person, id, Mend::Remove { line }, &back).await
}

/// `POST /desk/import/{id}/rows`: a further row.
pub(super) async fn add(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
    filled: Filled<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let Form(values) = filled.map_err(|_| WebError::Unreadable)?;
    let values = of_columns(values);
    let id = pages::free(&desk, &id)?;
    let back = pages::address(&id);
    mended(&desk, &person, id, Mend::Add { values }, &back).await
}

async fn mended(
    desk: &Desk,
    person: &Person,
    id: StagingId,
    mend: Mend,
    back: &str,
) -> Result<Response, WebError> {
    let line = match &mend {
        Mend::Change { line, .. } | Mend::LeaveOut { line, .. } | Mend::Remove { line } => *line,
        Mend::Add { .. } => 0,
    };
    let of = id.clone();
    let done = desk
        .try_act(move |workspace| staging::mend(workspace, &of, mend))
        .await?;
    let mut refused = refusing(desk, person, back).await?;
    match done {
        Ok(()) => desk.jobs.mended(&id, line),
        Err(error) => refused.add(&error),
    }
    refused.or(Redirect::to(&pages::address(&id)))
}

#[derive(Deserialize)]
pub(super) struct Names {
    pattern: String,
    #[serde(default)]
    cohorts: String,
}

impl From<Names> for Composing {
    fn from(names: Names) -> Self {
        Self {
            pattern: names.pattern,
            cohorts: names.cohorts,
        }
    }
}

/// `POST /desk/import/{id}/manifest`: the rows are made of the files' names.
pub(super) async fn compose(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
    filled: Filled<Names>,
) -> Result<Response, WebError> {
    let Form(names) = filled.map_err(|_| WebError::Unreadable)?;
    let id = pages::free(&desk, &id)?;
    let back = pages::address(&id);
    let of = id.clone();
    let done = desk
        .try_act(move |workspace| staging::compose(workspace, &of, &names.into()))
        .await?;
    let mut refused = refusing(&desk, &person, &back).await?;
    match done {
        Ok(()) => desk.jobs.forget(&id),
        Err(error) => refused.add(&error),
    }
    refused.or(Redirect::to(&back))
}
