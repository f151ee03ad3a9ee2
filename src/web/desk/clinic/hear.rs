//! Three words of a child from the first session compared and from the last, to be heard; the log tells each play.

use askama::Template;
use axum::extract::Path;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::RANGE;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Hers;
use crate::app;
use crate::app::Now;
use crate::app::SessionToHear;
use crate::report::number;
use crate::study::ChildCode;
use crate::web::WebError;
use crate::web::desk::Desk;
use crate::web::desk::frame::DeskFrame;
use crate::web::desk::frame::Section;
use crate::web::html;
use crate::web::range::served;

#[derive(Template)]
#[template(path = "clinic/hear.html")]
struct HearPage {
    frame: DeskFrame,
    child: ChildCode,
    /// The first session compared and the last; none where the child is not compared.
    sessions: Vec<SessionToHear>,
}

/// `GET /desk/children/{child}/hear`.
pub(super) async fn page(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
) -> Result<Response, WebError> {
    let wanted = child.clone();
    let sessions = desk
        .act(move |workspace| app::words_of_child(workspace, &wanted))
        .await?;
    let frame = desk.frame(&person, Section::Study).await?;
    let page = HearPage {
        frame,
        child,
        sessions,
    };
    Ok(html(&page)?.into_response())
}

/// `GET /desk/children/{child}/hear/{session}/{word}`: places on the page, counted from 0.
pub(super) async fn sound(
    State(desk): State<Desk>,
    Hers { person, child }: Hers,
    Path((_, session, word)): Path<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let place = |text: &str| text.parse::<usize>().map_err(|_| WebError::NotFound);
    let at = (place(&session)?, place(&word)?);
    let range = headers.get(RANGE).and_then(|value| value.to_str().ok());
    let begins = range.is_none_or(|range| range.trim().starts_with("bytes=0-"));
    let sound = desk
        .act(move |workspace| {
            app::hear_of_child(workspace, &child, at, &person, begins, Now::read())
        })
        .await?;
    Ok(served(sound, range, "audio/flac"))
}
