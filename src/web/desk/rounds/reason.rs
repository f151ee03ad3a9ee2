//! Why something was done otherwise than planned, written at the round's page.

use axum::extract::Path;
use axum::extract::State;
use axum::response::Redirect;
use axum::response::Response;

use super::turn::named;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::address::of_round;
use crate::web::desk::form::Filled;
use crate::web::desk::frame::Section;
use crate::web::desk::refused::Refused;

/// `POST /desk/rounds/{round}/reason`.
pub(super) async fn give(
    State(desk): State<Desk>,
    person: Person,
    Path(round): Path<String>,
    filled: Filled,
) -> Result<Response, WebError> {
    let name = named(&round)?;
    let event: u64 = filled
        .text("event")
        .parse()
        .map_err(|_| WebError::NotFound)?;
    let reason = filled.text("reason").to_owned();
    let back = of_round(&name, "");
    let mut refused = Refused::leading(desk.frame(&person, Section::Rounds).await?, &back);
    let done = desk
        .try_act(move |workspace| {
            app::explain_deviation(workspace, &name, event, &reason, Some(&person), Now::read())
        })
        .await?;
    if let Err(wrong) = &done {
        refused.add(wrong);
    }
    refused.or(Redirect::to(&back))
}
