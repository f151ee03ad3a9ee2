//! The cookie by which a browser is known again; it holds a random secret and nothing else.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum_extra::extract::CookieJar;

use super::error::ListenerError;
use crate::web::way::Way;

/// Where the way to the browser is safe; the prefix binds the cookie to this very host.
const SAFE_NAME: &str = "__Host-listener";

/// Where it is not, and on this machine itself, where some browsers take no cookie of the other kind.
const PLAIN_NAME: &str = "listener";

/// How long a browser is known: 90 days (ours), longer than a round is likely to be open.
const KNOWN_FOR_S: u32 = 90 * 24 * 60 * 60;

/// The cookie of the listener's browser.
pub(super) struct Known(pub(super) String);

impl<S: Send + Sync> FromRequestParts<S> for Known {
    type Rejection = ListenerError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, ListenerError> {
        let jar = CookieJar::from_headers(&parts.headers);
        jar.get(SAFE_NAME)
            .or_else(|| jar.get(PLAIN_NAME))
            .map(|cookie| Self(cookie.value().to_owned()))
            .ok_or(ListenerError::NoListener)
    }
}

/// The `Set-Cookie` header: out of reach for scripts, sent to this host alone, and over a safe way
/// alone where the way is safe.
pub(super) fn set(secret: &str, way: &Way) -> String {
    let (name, secure) = if way.safe {
        (SAFE_NAME, "; Secure")
    } else {
        (PLAIN_NAME, "")
    };
    format!("{name}={secret}; Path=/; Max-Age={KNOWN_FOR_S}; HttpOnly; SameSite=Lax{secure}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::IpAddr;

    fn cookie_on(safe: bool) -> String {
        let way = Way {
            from: IpAddr::from([192, 0, 2, 7]),
            safe,
            this_machine: false,
        };
        set("secret", &way)
    }

    #[test]
    fn the_cookie_is_bound_to_its_host_where_the_way_is_safe() {
        let cookie = cookie_on(true);
        assert!(cookie.starts_with("__Host-listener=secret"), "{cookie}");
        assert!(cookie.contains("Secure"), "{cookie}");
    }

    #[test]
    fn over_a_plain_way_the_cookie_still_reaches_the_browser() {
        let cookie = cookie_on(false);
        assert!(cookie.starts_with("listener=secret"), "{cookie}");
        assert!(!cookie.contains("Secure"), "{cookie}");
        assert!(
            cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax"),
            "{cookie}"
        );
    }
}
