//! The page that says why something was not done, all of it at once, and leads back.

use askama::Template;
use axum::http::StatusCode;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use super::frame::DeskFrame;
use crate::app::AppError;
use crate::web::WebError;

/// What was not done, and why.
#[derive(Template)]
#[template(path = "desk/refused.html")]
pub(super) struct Refused {
    frame: DeskFrame,
    back: String,
    sentences: Vec<String>,
}

impl Refused {
    /// A page without a sentence yet, that leads back to an address.
    pub(super) fn leading(frame: DeskFrame, back: &str) -> Self {
        Self {
            frame,
            back: back.to_owned(),
            sentences: Vec::new(),
        }
    }

    /// Adds what an act refused.
    pub(super) fn add(&mut self, error: &AppError) {
        self.sentences
            .extend(error.to_string().lines().map(str::to_owned));
    }

    /// Whether nothing was refused.
    pub(super) fn is_empty(&self) -> bool {
        self.sentences.is_empty()
    }

    /// An answer where nothing was refused, and otherwise this page.
    pub(super) fn or(self, answer: impl IntoResponse) -> Result<Response, WebError> {
        if self.sentences.is_empty() {
            return Ok(answer.into_response());
        }
        let page = Html(self.render()?);
        Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
    }
}
