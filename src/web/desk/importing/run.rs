//! The import itself: begun, watched, left alone, come back to.

use askama::Template;
use axum::Json;
use axum::extract::Path;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::jobs::End;
use super::pages;
use crate::app::Imported;
use crate::app::Person;
use crate::report::number;
use crate::study::ChildCode;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/import_run.html")]
struct RunPage {
    frame: DeskFrame,
    import: String,
    done: usize,
    of: usize,
    end: Option<End>,
}

/// `POST /desk/import/{id}/run`: begins it. A second press while it runs begins nothing.
pub(super) async fn start(
    State(desk): State<Desk>,
    Path(id): Path<String>,
) -> Result<Redirect, WebError> {
    let id = pages::id_in(&id)?;
    if !desk.jobs.running(&id) {
        // What is not there any more is said before anything begins.
        pages::look(&desk, &id).await?;
    }
    desk.jobs.start(&desk.workspace, &id);
    Ok(Redirect::to(&format!("{}/run", pages::address(&id))))
}

/// `GET /desk/import/{id}/run`: how far it has come, or how it ended.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
    Path(id): Path<String>,
) -> Result<Response, WebError> {
    let id = pages::id_in(&id)?;
    let Some(job) = desk.jobs.of(&id) else {
        return Ok(Redirect::to(&pages::address(&id)).into_response());
    };
    let (done, of) = job.progress();
    let page = RunPage {
        frame: desk.frame(&person, Section::Recordings).await?,
        import: pages::address(&id),
        done,
        of,
        end: job.end(),
    };
    Ok(html(&page)?.into_response())
}

/// What the script of that page is told.
#[derive(serde::Serialize)]
pub(super) struct Progress {
    done: usize,
    of: usize,
    ended: bool,
}

/// `GET /desk/import/{id}/run/state`.
pub(super) async fn state(
    State(desk): State<Desk>,
    Path(id): Path<String>,
) -> Result<Json<Progress>, WebError> {
    let id = pages::id_in(&id)?;
    let job = desk.jobs.of(&id).ok_or(WebError::NotFound)?;
    let (done, of) = job.progress();
    let ended = job.end().is_some();
    Ok(Json(Progress { done, of, ended }))
}

impl RunPage {
    fn title(&self) -> &'static str {
        match self.end {
            None => "Recordings are being prepared",
            Some(End::Imported(_)) => "Imported",
            Some(_) => "Nothing was imported",
        }
    }

    /// How long the bar is; a bar has a length before anything is counted.
    fn most(&self) -> usize {
        self.of.max(1)
    }

    fn lead(&self) -> String {
        match &self.end {
            None => "This page can be left: the work goes on.".to_owned(),
            Some(End::Imported(imported)) => came_of_it(imported),
            Some(End::Wrong(problems)) => {
                let n = number::counted(problems.len(), "problem");
                format!("{n} to mend, all listed with the import.")
            }
            Some(End::Refused(_) | End::Failed) => "What was there before is kept.".to_owned(),
        }
    }

    const fn next(&self) -> &'static str {
        match self.end {
            None => "Wait, or come back later.",
            Some(End::Imported(_)) => {
                "Hear the recordings, without child and phase, before a round is sealed."
            }
            Some(_) => "Mend what stands in the way, then import again.",
        }
    }
}

/// "118 recordings new", and what else came of it.
fn came_of_it(imported: &Imported) -> String {
    let mut said = format!("{} new", number::counted(imported.added, "recording"));
    if imported.known > 0 {
        let known = number::counted(imported.known, "recording");
        said = format!("{said}, {known} that were there already");
    }
    if imported.missing > 0 {
        let missing = number::counted(imported.missing, "word");
        said = format!("{said}, {missing} without a recording");
    }
    if imported.erased_before > 0 && !imported.new_children.is_empty() {
        let codes: Vec<_> = imported
            .new_children
            .iter()
            .map(ChildCode::as_str)
            .collect();
        let codes = codes.join(", ");
        return format!(
            "{said}. New to the study: {codes}. A child was erased from this study before: if the recordings \
             of that child came back with these, erase them again, unless the family wishes it otherwise."
        );
    }
    format!("{said}.")
}
