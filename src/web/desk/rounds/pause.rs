//! Pausing an open round, and letting it go on: both can be taken back.

use axum::extract::Path;
use axum::extract::State;
use axum::response::Redirect;

use super::turn::named;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;

/// `POST /desk/rounds/{round}/pause`.
pub(super) async fn pause(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Redirect, WebError> {
    let name = named(&round)?;
    let back = of_round(&name, "");
    // Where it is paused already, or open no more, the round's page says so.
    let _ = desk
        .try_act(move |workspace| app::pause_by(workspace, &name, &person, Now::read()))
        .await?;
    Ok(Redirect::to(&back))
}

/// `POST /desk/rounds/{round}/resume`.
pub(super) async fn resume(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
) -> Result<Redirect, WebError> {
    let name = named(&round)?;
    let back = of_round(&name, "");
    // As for the pause.
    let _ = desk
        .try_act(move |workspace| app::resume_by(workspace, &name, &person, Now::read()))
        .await?;
    Ok(Redirect::to(&back))
}
