//! Who may come in: whoever opens the one-time link on this machine, and that browser afterwards.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::Mutex;
use std::sync::PoisonError;

use axum::extract::ConnectInfo;
use axum::extract::Path;
use axum::extract::Request;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::HOST;
use axum::http::header::SET_COOKIE;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
use axum_extra::extract::CookieJar;

use super::Desk;
use crate::app;
use crate::app::Person;
use crate::study::Role;
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
    mut request: Request,
    next: Next,
) -> Result<Response, WebError> {
    let known = jar
        .get(COOKIE)
        .is_some_and(|cookie| desk.door.knows(cookie.value()));
    if known {
        request.extensions_mut().insert(Person {
            code: "A-local".to_owned(),
            name: "You".to_owned(),
            role: Role::Researcher,
            children: BTreeSet::new(),
        });
        Ok(next.run(request).await)
    } else {
        Err(WebError::NotFound)
    }
}

/// Lets in this machine alone: the other end is a loopback address, and so is the name that the browser asked for, so that
/// neither a proxy in front nor another site's name for this address leads here.
pub(super) async fn this_machine_only(request: Request, next: Next) -> Result<Response, WebError> {
    let other_end = request.extensions().get::<ConnectInfo<SocketAddr>>();
    let near = other_end.is_some_and(|end| end.0.ip().is_loopback());
    if near && asked_by_a_loopback_name(request.headers()) {
        Ok(next.run(request).await)
    } else {
        Err(WebError::NotFound)
    }
}

fn asked_by_a_loopback_name(headers: &HeaderMap) -> bool {
    let host = headers.get(HOST).and_then(|value| value.to_str().ok());
    let host = host.unwrap_or_default();
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|digit| digit.is_ascii_digit()) => name,
        _ => host,
    };
    matches!(name, "localhost" | "127.0.0.1" | "[::1]")
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    #[test]
    fn the_link_opens_once() {
        let door = Door::new("secret");
        assert!(door.exchange("another").is_none());
        let cookie = door.exchange("secret").unwrap();
        assert!(door.knows(&cookie) && !door.knows("secret"));
        assert!(door.exchange("secret").is_none());
    }

    #[test]
    fn only_names_of_this_machine_lead_here() {
        for (host, here) in [
            ("127.0.0.1:8484", true),
            ("localhost", true),
            ("[::1]:80", true),
            ("clinic.example", false),
            ("127.0.0.1.clinic.example:80", false),
            ("", false),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(HOST, HeaderValue::from_static(host));
            assert_eq!(asked_by_a_loopback_name(&headers), here, "{host}");
        }
    }
}
