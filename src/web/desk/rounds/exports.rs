//! Exports of an unlocked round: made and downloaded, internal or to share.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::header::CONTENT_DISPOSITION;
use axum::http::header::CONTENT_TYPE;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use super::turn::named;
use crate::app;
use crate::app::AppError;
use crate::app::Copied;
use crate::app::Form;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::folder;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/exports.html")]
struct ExportsPage {
    frame: DeskFrame,
    round: RoundName,
    state: RoundState,
    copies: Vec<Copied>,
    /// Why nothing was made; empty where nothing was asked.
    problem: String,
}

/// `GET /desk/rounds/{round}/exports`.
pub(super) async fn exports(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person, &round).await?)
}

/// `POST /desk/rounds/{round}/exports`: the export as one ZIP.
pub(super) async fn download(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    let problem = match filled.text("form") {
        "internal" | "share" => {
            let form = if filled.text("form") == "share" {
                Form::Shared
            } else {
                Form::Internal
            };
            let (file, by) = (file_name(&name, form), person.clone());
            let made = desk
                .try_act(move |workspace| {
                    let packed = packed(workspace, &name, form)?;
                    app::note_download(workspace, "export", &file, &by, Now::read())?;
                    Ok((file, packed))
                })
                .await?;
            match made {
                Ok((file, packed)) => return Ok(as_file(&file, packed)),
                Err(wrong) => wrong.to_string(),
            }
        }
        _ => "Choose for whom the export is".to_owned(),
    };
    let mut page = fresh(&desk, &person, &round).await?;
    page.problem = problem;
    unprocessable(&page)
}

fn packed(workspace: &Workspace, name: &RoundName, form: Form) -> Result<Vec<u8>, AppError> {
    let unlocked = app::unlocked(workspace, name)?;
    let findings = match form {
        Form::Internal => app::findings(workspace, &unlocked)?,
        Form::Shared => app::shared_findings(workspace, &unlocked)?,
    };
    app::write_zip(&folder::export(&findings)?)
}

fn as_file(file: &str, packed: Vec<u8>) -> Response {
    let headers = [
        (CONTENT_TYPE, "application/zip".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{file}\""),
        ),
    ];
    (headers, packed).into_response()
}

/// The round's name, as far as every system takes it, and for whom it is: no child is named there.
fn file_name(round: &RoundName, form: Form) -> String {
    let plain = |sign: char| {
        if sign.is_ascii_alphanumeric() {
            sign
        } else {
            '-'
        }
    };
    let round: String = round.as_str().chars().map(plain).collect();
    let form = match form {
        Form::Internal => "internal",
        Form::Shared => "share",
    };
    format!("export-{round}-{form}.zip")
}

async fn fresh(desk: &Desk, person: &Person, round: &str) -> Result<ExportsPage, WebError> {
    let name = named(round)?;
    let wanted = name.clone();
    let (state, copies) = desk
        .act(move |workspace| {
            let state = app::state_of(workspace, &wanted)?;
            Ok((state, app::copies_made(workspace)?))
        })
        .await?;
    Ok(ExportsPage {
        frame: desk.frame(person, Section::Rounds).await?,
        round: name,
        state,
        copies,
        problem: String::new(),
    })
}

impl ExportsPage {
    const fn next(&self) -> &'static str {
        match self.state {
            RoundState::Unlocked => {
                "Choose for whom the export is, and keep what you download as safe as the study."
            }
            _ => "Close the round and unlock it: before that there is nothing to export.",
        }
    }

    /// A moment without its fractions.
    fn when(copy: &Copied) -> String {
        let whole = copy.made.split('.').next().unwrap_or_default();
        whole.trim_end_matches('Z').replace('T', " ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_of_a_file_holds_no_sign_that_a_system_refuses() {
        let round = RoundName::new("spring / \"2nd\", ñ").unwrap();
        assert_eq!(
            file_name(&round, Form::Shared),
            "export-spring----2nd-----share.zip"
        );
    }
}
