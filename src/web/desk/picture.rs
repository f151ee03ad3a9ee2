//! A graph as a file to keep; the log tells the download.

use axum::http::header::CONTENT_DISPOSITION;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::response::Response;

use super::Desk;
use crate::app;
use crate::app::Now;
use crate::app::Person;
use crate::folder;
use crate::report::Picture;
use crate::web::WebError;

/// Draws a graph, notes that it leaves the study, and hands it out.
pub(super) async fn downloaded(
    desk: &Desk,
    person: Person,
    picture: Picture,
) -> Result<Response, WebError> {
    let (file, bytes) = desk
        .act(move |workspace| {
            let drawn = folder::as_file(&picture)?;
            // The note names no child: it outlives her.
            app::note_download(workspace, "report", "a graph", &person, Now::read())?;
            Ok(drawn)
        })
        .await?;
    let kind = if file.ends_with("png") {
        "image/png"
    } else {
        "image/svg+xml"
    };
    let headers = [
        (CONTENT_TYPE, kind.to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{file}\""),
        ),
    ];
    Ok((headers, bytes).into_response())
}
