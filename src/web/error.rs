//! One match turns an error into a status and a sentence; insides go to the log, never to the reader.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};

use super::languages::Language;
use super::page::Frame;
use super::page::html;

/// Why a page could not be given.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WebError {
    /// There is nothing here, or nothing for this reader.
    #[error("nothing is here")]
    NotFound,
    /// A one-time address that was used, ran out or gave way to a newer one.
    #[error("a one-time address opens no more")]
    AddressSpent,
    /// The page is there, and not for the role of whoever asks.
    #[error("not for this role")]
    NotAllowed,
    /// Another site sent the form.
    #[error("the form came from another site")]
    OtherSite,
    /// More was sent than the page takes.
    #[error("more was sent than the page takes")]
    TooLarge,
    /// The request cannot be read.
    #[error("the request cannot be read")]
    Unreadable,
    /// What would be changed is being worked on.
    #[error("it is being worked on")]
    Busy,
    /// The answer took too long.
    #[error("the answer took too long")]
    TooSlow,
    /// A template failed.
    #[error("a page could not be written")]
    Page(#[from] askama::Error),
    /// The act behind the page failed.
    #[error("the act behind a page failed")]
    Act(crate::app::AppError),
    /// The work behind the page broke off.
    #[error("the work behind a page broke off")]
    Broken(#[from] tokio::task::JoinError),
    /// A handler panicked.
    #[error("a handler panicked")]
    Panicked,
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage<'a> {
    frame: Frame,
    title: &'a str,
    sentence: &'a str,
    /// Whether whoever reads it is signed in at the desk.
    staff: bool,
}

impl WebError {
    /// The status, a title and a sentence that says what to do next.
    fn said(&self) -> (StatusCode, &'static str, &'static str) {
        match self {
            Self::NotFound => (
                StatusCode::NOT_FOUND,
                "Nothing is here",
                "Please open the link that you were given once more, all of it.",
            ),
            Self::AddressSpent => (
                StatusCode::NOT_FOUND,
                "This address opens nothing any more",
                "It is good once and for a day, and only the newest one counts. Copy all of the newest, or have one \
                 made: `fairhearing serve` prints it for the first account, `fairhearing account reset NAME` for any other.",
            ),
            Self::NotAllowed => (
                StatusCode::FORBIDDEN,
                "This page is not for your role",
                "Nothing was changed. If your work needs it, ask the researcher who made your account.",
            ),
            Self::OtherSite => (
                StatusCode::FORBIDDEN,
                "This came from another site",
                "Nothing was changed. Please open the page itself and try again.",
            ),
            Self::TooLarge => (
                StatusCode::PAYLOAD_TOO_LARGE,
                "This is too much at once",
                "Nothing was changed. Please send less.",
            ),
            Self::Unreadable => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "This could not be read",
                "Nothing was changed. Please go back, look through what you entered, and send it again.",
            ),
            Self::Busy => (
                StatusCode::CONFLICT,
                "This is being worked on",
                "Nothing was changed. Please wait until the work that was begun has ended.",
            ),
            Self::TooSlow => (
                StatusCode::SERVICE_UNAVAILABLE,
                "This took too long",
                "Please try again in a moment. What was saved before is kept.",
            ),
            Self::Page(_) | Self::Act(_) | Self::Broken(_) | Self::Panicked => {
                tracing::error!(error = ?self, "a request failed");
                (
                    StatusCode::INTERNAL_SERVER_ERROR,
                    "Something went wrong here",
                    "It is our fault, not yours. What was saved before is kept; please try again.",
                )
            }
        }
    }
}

/// A refusal that a listener may meet too; it is said in the language of the study then.
#[derive(Debug, Clone, Copy)]
pub(super) enum Refusal {
    NotFound,
    OtherSite,
    TooLarge,
    Unreadable,
    TooSlow,
    Ours,
}

impl Refusal {
    /// Nothing for what staff alone meet.
    const fn of(error: &WebError) -> Option<Self> {
        Some(match error {
            WebError::NotFound => Self::NotFound,
            WebError::OtherSite => Self::OtherSite,
            WebError::TooLarge => Self::TooLarge,
            WebError::Unreadable => Self::Unreadable,
            WebError::TooSlow => Self::TooSlow,
            WebError::Page(_) | WebError::Act(_) | WebError::Broken(_) | WebError::Panicked => {
                Self::Ours
            }
            WebError::AddressSpent | WebError::NotAllowed | WebError::Busy => return None,
        })
    }

    /// The page that says it in a language.
    pub(super) fn page(self, language: &Language) -> Result<Html<String>, WebError> {
        let texts = &language.texts.refused;
        let (title, sentence) = match self {
            Self::NotFound => (&texts.not_found_title, &texts.not_found),
            Self::OtherSite => (&texts.other_site_title, &texts.other_site),
            Self::TooLarge => (&texts.too_large_title, &texts.too_large),
            Self::Unreadable => (&texts.unreadable_title, &texts.unreadable),
            Self::TooSlow => (&texts.too_slow_title, &texts.too_slow),
            Self::Ours => (&texts.ours_title, &texts.ours),
        };
        html(&ErrorPage {
            frame: language.frame(),
            title,
            sentence,
            staff: false,
        })
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let (status, title, sentence) = self.said();
        let frame = Frame::english();
        let page = ErrorPage {
            frame,
            title,
            sentence,
            staff: matches!(self, Self::NotAllowed),
        };
        let mut response = match page.render() {
            Ok(text) => (status, Html(text)).into_response(),
            Err(_) => (status, sentence).into_response(),
        };
        if let Some(refusal) = Refusal::of(&self) {
            response.extensions_mut().insert(refusal);
        }
        response
    }
}
