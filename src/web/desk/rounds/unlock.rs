//! Unlocking a closed round: its results may be seen from then on.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

use super::turn::NOT_TICKED;
use super::turn::followed;
use super::turn::is_meant;
use super::turn::named;
use super::turn::short_says;
use crate::app;
use crate::app::Followed;
use crate::app::Now;
use crate::app::Person;
use crate::study::RoundState;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::desk::sign_in::unprocessable;
use crate::web::html;

#[derive(Template)]
#[template(path = "desk/unlock.html")]
struct UnlockPage {
    frame: DeskFrame,
    followed: Followed,
    /// What unlocking leaves undone of a masked analysis; nothing where that is nothing.
    left_open: Option<String>,
    /// Why nothing was done; empty where nothing was asked.
    problem: String,
}

/// `GET /desk/rounds/{round}/unlock`: what it does, before it is done.
pub(super) async fn unlock_page(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Html<String>, WebError> {
    html(&fresh(&desk, &person, &round).await?)
}

/// `POST /desk/rounds/{round}/unlock`.
pub(super) async fn unlock(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    let problem = if is_meant(&filled) {
        let (round, by) = (name.clone(), person.clone());
        let done = desk
            .try_act(move |workspace| app::unlock_by(workspace, &round, &by, Now::read()))
            .await?;
        match done {
            Ok(_) => return Ok(Redirect::to(&of_round(&name, "")).into_response()),
            Err(wrong) => wrong.to_string(),
        }
    } else {
        NOT_TICKED.to_owned()
    };
    let mut page = fresh(&desk, &person, &round).await?;
    page.problem = problem;
    unprocessable(&page)
}

async fn fresh(desk: &Desk, person: &Person, round: &str) -> Result<UnlockPage, WebError> {
    let name = named(round)?;
    let of = name.clone();
    let masked = desk
        .act(move |workspace| app::masked_state(workspace, &of))
        .await?;
    Ok(UnlockPage {
        left_open: masked.left_open(),
        frame: desk.frame(person, Section::Rounds).await?,
        followed: followed(desk, &name).await?,
        problem: String::new(),
    })
}
