//! The pages of an import: those that were begun, and one with its files, rows and problems.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::Path;
use axum::extract::Query;
use axum::extract::State;
use axum::response::Html;
use axum::response::Redirect;
use serde::Deserialize;

use super::rows::REASONS;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::staging;
use crate::app::staging::Begun;
use crate::app::staging::Composed;
use crate::app::staging::Composing;
use crate::app::staging::Found;
use crate::app::staging::Staged;
use crate::app::staging::StagedRow;
use crate::app::staging::StagingId;
use crate::report::number;
use crate::study::Problem;
use crate::study::StudySettings;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

/// Rows on one page.
const ROWS: usize = 200;

/// What names are read by until somebody says otherwise.
const USUAL_PATTERN: &str = "{child}_{session}_{phase}_{word}_{attempt}";

#[derive(Template)]
#[template(path = "desk/imports.html")]
struct BegunPage {
    frame: DeskFrame,
    begun: Vec<Begun>,
}

#[derive(Template)]
#[template(path = "desk/import.html")]
struct StagedPage {
    frame: DeskFrame,
    import: String,
    staged: Staged,
    problems: Vec<Problem>,
    rows: Vec<StagedRow>,
    of: usize,
    from: usize,
    only: Only,
    composing: Composing,
    preview: Option<Result<Composed, String>>,
    settings: StudySettings,
    reasons: &'static [&'static str],
    running: bool,
}

/// Which rows are shown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Only {
    #[default]
    All,
    Wrong,
    Missing,
}

/// What the page is asked to show.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    only: Only,
    #[serde(default)]
    from: usize,
    pattern: Option<String>,
    #[serde(default)]
    cohorts: String,
}

impl Asked {
    fn composing(&self) -> Composing {
        let pattern = self.pattern.as_deref().unwrap_or(USUAL_PATTERN);
        Composing {
            pattern: pattern.to_owned(),
            cohorts: self.cohorts.clone(),
        }
    }
}

/// `GET /desk/import`: begin one, or go on with one that was begun.
pub(super) async fn begun(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    let begun = desk.act(staging::begun).await?;
    html(&BegunPage {
        frame: desk.frame(&person, Section::Recordings).await?,
        begun,
    })
}

/// `POST /desk/import`: begins one.
pub(super) async fn begin(State(desk): State<Desk>) -> Result<Redirect, WebError> {
    let id = desk
        .act(|workspace| staging::begin(workspace, Now::read()))
        .await?;
    Ok(Redirect::to(&address(&id)))
}

/// `POST /desk/import/{id}/discard`: throws one away.
pub(super) async fn discard(
    State(desk): State<Desk>,
    Path(id): Path<String>,
) -> Result<Redirect, WebError> {
    let id = free(&desk, &id)?;
    desk.jobs.forget(&id);
    desk.act(move |workspace| staging::discard(workspace, &id))
        .await?;
    Ok(Redirect::to("/desk/import"))
}

/// `GET /desk/import/{id}`: its files, what each row becomes, and what is wrong. With `?pattern=` it also shows what the
/// names would give.
pub(super) async fn staged(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let id = id_in(&id)?;
    let staged = look(&desk, &id).await?;
    let nothing_yet = staged.manifest.is_none() && !staged.files.is_empty();
    let preview = if asked.pattern.is_some() || nothing_yet {
        Some(previewed(&desk, &id, asked.composing()).await?)
    } else {
        None
    };
    let settings = desk.act(Workspace::settings).await?;
    let mut page = StagedPage {
        frame: desk.frame(&person, Section::Recordings).await?,
        import: address(&id),
        problems: problems(&desk, &id, &staged),
        rows: Vec::new(),
        of: 0,
        from: asked.from,
        only: asked.only,
        composing: asked.composing(),
        preview,
        settings,
        staged,
        reasons: REASONS,
        running: desk.jobs.running(&id),
    };
    page.choose_rows();
    html(&page)
}

/// What the names would give, or why they cannot be read so.
async fn previewed(
    desk: &Desk,
    id: &StagingId,
    by: Composing,
) -> Result<Result<Composed, String>, WebError> {
    let id = id.clone();
    let made = desk
        .try_act(move |workspace| staging::preview(workspace, &id, &by))
        .await?;
    Ok(made.map_err(|error| error.to_string()))
}

/// The import that an address names.
pub(super) fn id_in(raw: &str) -> Result<StagingId, WebError> {
    raw.parse().map_err(|_| WebError::NotFound)
}

/// The same, where it does not run: while it runs, nothing of it is changed.
pub(super) fn free(desk: &Desk, raw: &str) -> Result<StagingId, WebError> {
    let id = id_in(raw)?;
    if desk.jobs.running(&id) {
        Err(WebError::Busy)
    } else {
        Ok(id)
    }
}

/// What is staged.
pub(super) async fn look(desk: &Desk, id: &StagingId) -> Result<Staged, WebError> {
    let id = id.clone();
    desk.act(move |workspace| staging::look(workspace, &id))
        .await
}

/// All that is known to be wrong: what shows at once, and what the last run found.
pub(super) fn problems(desk: &Desk, id: &StagingId, staged: &Staged) -> Vec<Problem> {
    let mut problems = staged.problems.clone();
    for problem in desk.jobs.problems(id) {
        if !problems.contains(&problem) {
            problems.push(problem);
        }
    }
    problems.sort_by_key(Problem::line);
    problems
}

/// The address of an import.
pub(super) fn address(id: &StagingId) -> String {
    format!("/desk/import/{id}")
}

/// The address of a row.
pub(super) fn address_of_row(id: &StagingId, line: u64) -> String {
    format!("/desk/import/{id}/rows/{line}")
}

impl StagedPage {
    /// "120 files, 34.5 MB".
    fn filled(&self) -> String {
        let bytes: u64 = self.staged.files.iter().map(|file| file.bytes).sum();
        let files = number::counted(self.staged.files.len(), "file");
        format!("{files}, {}", megabytes(bytes))
    }

    fn lead(&self) -> String {
        if self.staged.files.is_empty() {
            "No recording is here yet.".to_owned()
        } else {
            format!("{} here.", self.filled())
        }
    }

    fn next(&self) -> &'static str {
        if self.staged.files.is_empty() && self.staged.manifest.is_none() {
            "Give the recordings. They wait on this machine until all of them are right."
        } else if self.staged.manifest.is_none() {
            "Say what they are: by a manifest, or by their names."
        } else if self.ready() {
            "Look through the rows, then import."
        } else {
            "Mend what is listed."
        }
    }

    /// Chooses the rows that are asked for, as many as a page takes.
    fn choose_rows(&mut self) {
        let lines: BTreeSet<u64> = self.problems.iter().filter_map(Problem::line).collect();
        let mut rows = self.staged.rows.clone();
        rows.retain(|row| match self.only {
            Only::All => true,
            Only::Wrong => lines.contains(&row.line),
            Only::Missing => row.found == Found::Missing,
        });
        self.of = rows.len();
        self.rows = rows.into_iter().skip(self.from).take(ROWS).collect();
    }

    /// How many rows have a problem.
    fn n_wrong(&self) -> usize {
        let lines: BTreeSet<u64> = self.problems.iter().filter_map(Problem::line).collect();
        let rows = self.staged.rows.iter();
        rows.filter(|row| lines.contains(&row.line)).count()
    }

    fn further(&self) -> Option<usize> {
        let next = self.from + self.rows.len();
        (next < self.of).then_some(next)
    }

    fn only(&self) -> &'static str {
        match self.only {
            Only::All => "all",
            Only::Wrong => "wrong",
            Only::Missing => "missing",
        }
    }

    /// Whether all that can be told beforehand is right.
    fn ready(&self) -> bool {
        self.staged.manifest.is_some() && self.problems.is_empty()
    }

    fn wrong(&self, row: &StagedRow) -> bool {
        row.found == Found::Wrong || self.problems.iter().any(|p| stands_in(p, row))
    }
}

/// Whether a problem is one of this row.
fn stands_in(problem: &Problem, row: &StagedRow) -> bool {
    problem.line() == Some(row.line)
}

/// What a row becomes, in a word or two.
fn becomes(row: &StagedRow) -> String {
    match row.found {
        Found::Wrong => "to be mended".to_owned(),
        Found::Missing => format!("missing: {}", row.reason),
        Found::Recording if row.use_.is_empty() => "scored".to_owned(),
        Found::Recording => row.use_.clone(),
    }
}

fn megabytes(bytes: u64) -> String {
    let megabytes = bytes as f64 / 1e6;
    format!("{} MB", number::fixed(megabytes, 1))
}

/// When something was begun, for staff: the machine's own day and hour are not known here, so UTC is said.
fn moment(at: Now) -> String {
    at.to_string()
}
