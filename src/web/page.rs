//! What every page has: its language, its direction, and the addresses of its assets.

use askama::Template;
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

use super::assets;
use super::error::WebError;

/// The frame of a page: `layout.html` asks for it under the name `frame`.
#[derive(Debug, Clone)]
pub struct Frame {
    /// The page's language, such as `en`.
    pub lang: String,
    /// `ltr` or `rtl`.
    pub dir: &'static str,
    /// The words of the way to hand over, where one laptop is handed round.
    pub hand_over: Option<String>,
    /// Where a listener is known: what her browser has not sent yet is sent from here.
    pub unsent: Option<Unsent>,
}

/// What a page needs to send the answers that wait in a browser.
#[derive(Debug, Clone)]
pub struct Unsent {
    /// Stands for the listener in the browser's storage.
    pub tag: String,
    /// The sentence that says how many wait, with `{count}`.
    pub text: String,
}

impl Frame {
    /// The frame of the pages for staff.
    pub fn english() -> Self {
        Self {
            lang: "en".to_owned(),
            dir: "ltr",
            hand_over: None,
            unsent: None,
        }
    }

    /// What the address of a listener's form says of whose page it stands on, `?whose=` and her tag.
    pub fn whose(&self) -> String {
        let tag = self.unsent.as_ref().map(|unsent| &unsent.tag);
        tag.map_or_else(String::new, |tag| format!("?whose={tag}"))
    }

    /// The address of an asset, such as `app.css`.
    pub fn asset(&self, name: &str) -> String {
        assets::address(name)
    }
}

/// Writes a page out.
///
/// # Errors
/// [`WebError::Page`] if its template fails.
pub fn html(page: &impl Template) -> Result<Html<String>, WebError> {
    Ok(Html(page.render()?))
}

/// A page that stands alone. It carries its style in it: its own policy lets that in and nothing else.
pub fn standing(page: String, policy: &str) -> Response {
    let policy = format!("{policy}; frame-ancestors 'none'");
    ([(CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response()
}
