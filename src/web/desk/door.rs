//! Who may come in: whoever opens the one-time link on this machine, and that browser afterwards.

use std::sync::Mutex;
use std::sync::PoisonError;

use axum::extract::Path;
use axum::extract::Request;
use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use axum_extra::extract::CookieJar;

use super::Desk;
use crate::app;
use crate::web::WebError;

/// The name of the cookie. It is sent to these pages alone, and not over the network: they answer on this machine only.
const COOKIE: &str = "desk";

/// The door of the staff's pages: its one-time secret, and then the browser that opened it.
///
/// Both live as long as the process does, and only as digests.
pub struct Door {
    state: Mutex<Held>,
}

struct Held {
    /// The digest of the link's secret, until it is used.
    link: Option<String>,
    /// The digest of the cookie's secret, once the link was used.
    browser: Option<String>,
}

impl Door {
    /// A door that opens once to `secret`.
    pub fn new(secret: &str) -> Self {
        Self {
            state: Mutex::new(Held {
                link: Some(app::digest_of(secret)),
                browser: None,
            }),
        }
    }

    /// The path of the one-time link.
    pub fn path(secret: &str) -> String {
        format!("/desk/open/{secret}")
    }

    /// Takes the link's secret for the secret of a cookie; a second time there is nothing to take.
    fn exchange(&self, secret: &str) -> Option<String> {
        let mut held = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if held.link.as_deref() != Some(app::digest_of(secret).as_str()) {
            return None;
        }
        let cookie = app::one_time_secret();
        held.link = None;
        held.browser = Some(app::digest_of(&cookie));
        Some(cookie)
    }

    fn knows(&self, cookie: &str) -> bool {
        let held = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        held.browser.as_deref() == Some(app::digest_of(cookie).as_str())
    }
}

/// `GET /desk/open/{secret}`: once.
pub(super) async fn open(
    State(desk): State<Desk>,
    Path(secret): Path<String>,
) -> Result<Response, WebError> {
    let cookie = desk.door.exchange(&secret).ok_or(WebError::NotFound)?;
    let set = format!("{COOKIE}={cookie}; Path=/desk; HttpOnly; SameSite=Lax");
    Ok(([(SET_COOKIE, set)], Redirect::to("/desk")).into_response())
}

/// Lets in the browser that opened the link.
pub(super) async fn known_only(
    State(desk): State<Desk>,
    jar: CookieJar,
    request: Request,
    next: Next,
) -> Result<Response, WebError> {
    let known = jar
        .get(COOKIE)
        .is_some_and(|cookie| desk.door.knows(cookie.value()));
    if known {
        Ok(next.run(request).await)
    } else {
        Err(WebError::NotFound)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_link_opens_once() {
        let door = Door::new("secret");
        assert!(door.exchange("another").is_none());
        let cookie = door.exchange("secret").unwrap();
        assert!(door.knows(&cookie) && !door.knows("secret"));
        assert!(door.exchange("secret").is_none());
    }
}
