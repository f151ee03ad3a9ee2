//! A recording is left out with a coded reason, or taken in again.

use axum::extract::Path;
use axum::extract::Query;
use axum::extract::State;
use axum::response::Redirect;
use axum::response::Response;

use super::list::Asked;
use super::token::encoded;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::review;
use crate::study::Exclusion;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::Section;
use crate::web::desk::refused::Refused;

/// `POST /desk/recordings/review/{name}/exclude?mark=`.
pub(super) async fn exclude(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
    filled: Filled,
) -> Result<Response, WebError> {
    let back = address(&name, &asked);
    let done = match filled.text("reason").parse::<Exclusion>() {
        Ok(reason) => {
            let (shuffle, by) = (desk.shuffle.clone(), person.clone());
            desk.try_act(move |workspace| {
                review::exclude(workspace, &shuffle, &name, reason, &by, Now::read())
            })
            .await?
        }
        Err(_) => Err(AppError::refused(
            "no reason was chosen",
            "choose why the recording is left out",
        )),
    };
    answered(&desk, &person, done, &back, &back).await
}

/// `POST /desk/recordings/review/{name}/include?mark=`.
pub(super) async fn include(
    State(desk): State<Desk>,
    person: Person,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let back = address(&name, &asked);
    let (shuffle, by) = (desk.shuffle.clone(), person.clone());
    let done = desk
        .try_act(move |workspace| review::include(workspace, &shuffle, &name, &by, Now::read()))
        .await?;
    // Under this filter the recording is not listed any more.
    let then = if asked.mark == "excluded" {
        "/desk/recordings/review?mark=excluded"
    } else {
        &back
    };
    answered(&desk, &person, done, then, &back).await
}

async fn answered(
    desk: &Desk,
    person: &Person,
    done: Result<(), AppError>,
    then: &str,
    back: &str,
) -> Result<Response, WebError> {
    let frame = desk.frame(person, Section::Recordings).await?;
    let mut refused = Refused::leading(frame, back);
    if let Err(error) = done {
        refused.add(&error);
    }
    refused.or(Redirect::to(then))
}

fn address(name: &str, asked: &Asked) -> String {
    format!(
        "/desk/recordings/review/{}?mark={}",
        encoded(name),
        encoded(&asked.mark)
    )
}

/// A reason as people say it.
pub(super) const fn in_words(reason: Exclusion) -> &'static str {
    match reason {
        Exclusion::Noise => "noise covers the word",
        Exclusion::Overlap => "somebody else speaks at the same time",
        Exclusion::WrongWord => "another word was said",
        Exclusion::ClinicianVoice => "the clinician’s voice is in it",
        Exclusion::SaysAName => "a name is said",
        Exclusion::CutOff => "the word is cut off",
        Exclusion::Technical => "spoilt in recording: clipped, too quiet or broken",
        Exclusion::NotPart => "it belongs to nothing in the study",
    }
}
