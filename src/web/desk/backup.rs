//! Backups: made while listeners go on, checked file by file, and how a study is made from one again.

use std::path::Path;
use std::path::PathBuf;

use askama::Template;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::Desk;
use super::field::Field;
use super::form::Filled;
use super::frame::DeskFrame;
use super::frame::Section;
use super::sign_in::unprocessable;
use crate::app;
use crate::app::AppError;
use crate::app::BackedUp;
use crate::app::Checked;
use crate::app::Copied;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::report::number;
use crate::web::WebError;
use crate::web::html;

/// What was last asked of backups; one thing at a time.
#[derive(Debug, Clone)]
pub(super) enum BackupWork {
    /// It goes on.
    Running(PathBuf),
    /// A backup was made there.
    Made(PathBuf, BackedUp),
    /// A backup there is whole.
    Whole(PathBuf, Checked),
    /// What went wrong, a sentence each.
    Refused(Vec<String>),
    /// It is our fault.
    Failed,
}

#[derive(Template)]
#[template(path = "desk/backup.html")]
struct BackupPage {
    frame: DeskFrame,
    folder: String,
    work: Option<BackupWork>,
    made: Vec<Copied>,
    to: Field,
    from: Field,
}

/// `GET /desk/backup`.
pub(super) async fn page(
    State(desk): State<Desk>,
    person: Person,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person).await?)
}

/// `POST /desk/backup`: begins a backup; the page can be left meanwhile.
pub(super) async fn make(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    let Some(to) = place(&mut page.to, &filled) else {
        return unprocessable(&page);
    };
    let by = person.clone();
    begin(&desk, to, move |workspace, to| {
        let made = app::back_up_by(workspace, to, &by, Now::read())?;
        Ok(BackupWork::Made(to.to_owned(), made))
    })
}

/// `POST /desk/backup/check`: begins to compare a backup with its list.
pub(super) async fn check(
    State(desk): State<Desk>,
    person: Person,
    filled: Filled,
) -> Result<Response, WebError> {
    let mut page = fresh(&desk, &person).await?;
    let Some(from) = place(&mut page.from, &filled) else {
        return unprocessable(&page);
    };
    begin(&desk, from, |_, from| {
        Ok(BackupWork::Whole(from.to_owned(), app::check_backup(from)?))
    })
}

/// Begins a piece of work, unless one goes on.
fn begin(
    desk: &Desk,
    path: PathBuf,
    work: impl FnOnce(&Workspace, &Path) -> Result<BackupWork, AppError> + Send + 'static,
) -> Result<Response, WebError> {
    let mut now = desk.site.backup();
    if matches!(*now, Some(BackupWork::Running(_))) {
        return Err(WebError::Busy);
    }
    *now = Some(BackupWork::Running(path.clone()));
    drop(now);
    let desk = desk.clone();
    tokio::task::spawn_blocking(move || {
        let work = std::panic::AssertUnwindSafe(|| work(&desk.workspace, &path));
        // A piece of work that panics must not look as if it went on for ever.
        let end = match std::panic::catch_unwind(work) {
            Ok(Ok(end)) => end,
            Ok(Err(error)) if error.is_the_askers() => {
                BackupWork::Refused(error.to_string().lines().map(str::to_owned).collect())
            }
            Ok(Err(error)) => {
                tracing::error!(?error, "a backup failed");
                BackupWork::Failed
            }
            Err(_) => BackupWork::Failed,
        };
        *desk.site.backup() = Some(end);
    });
    Ok(Redirect::to("/desk/backup").into_response())
}

/// The folder that was entered: from the root of this machine, so that it is plain where it is.
fn place(field: &mut Field, filled: &Filled) -> Option<PathBuf> {
    filled.text(field.name).trim().clone_into(&mut field.value);
    let path = PathBuf::from(&field.value);
    if path.is_absolute() {
        return Some(path);
    }
    "Write the whole path, from the root of this machine on.".clone_into(&mut field.error);
    None
}

async fn fresh(desk: &Desk, person: &Person) -> Result<BackupPage, WebError> {
    let made = desk.act(app::copies_made).await?.into_iter();
    Ok(BackupPage {
        frame: desk.frame(person, Section::Backup).await?,
        folder: whole_path(desk.workspace.folder()),
        work: desk.site.backup().clone(),
        made: made.filter(|copy| copy.kind == "backup").collect(),
        to: Field::text("to", "Folder for the backup").hint(
            "The whole path of a folder that is not there yet, best on another disk. It holds voices: keep it as safe as the study.",
        ),
        from: Field::text("from", "Folder of a backup"),
    })
}

impl BackupPage {
    fn next(&self) -> &'static str {
        match (&self.work, self.made.is_empty()) {
            (Some(BackupWork::Running(_)), _) => "Wait, or come back later: the work goes on.",
            (_, true) => "Make the first backup before listeners begin.",
            (_, false) => {
                "Make one after each import and each day of listening, and check it now and then."
            }
        }
    }
}

fn megabytes(bytes: u64) -> String {
    let tenths = u32::try_from(bytes / 100_000).unwrap_or(u32::MAX);
    format!("{} MB", number::fixed(f64::from(tenths) / 10.0, 1))
}

/// `2026-11-03T09:12:44.123Z` as `2026-11-03 09:12`.
fn minute_of(copy: &Copied) -> String {
    let minute = copy.made.get(..16).unwrap_or(&copy.made);
    minute.replace('T', " ")
}

/// A path from the root of the disk on: what somebody looks for elsewhere is of no use without it.
fn whole_path(folder: &Path) -> String {
    let whole = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    whole.display().to_string()
}
