//! The cookie by which a browser is known again; it holds a random secret and nothing else.

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::request::Parts;
use axum_extra::extract::CookieJar;

use super::error::ListenerError;

/// Where the way to the browser is safe; the prefix binds the cookie to this very host.
const SAFE_NAME: &str = "__Host-listener";
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
pub(super) fn set(secret: &str, headers: &HeaderMap) -> String {
    let (name, secure) = if way_is_safe(headers) {
        (SAFE_NAME, "; Secure")
    } else {
        (PLAIN_NAME, "")
    };
    format!("{name}={secret}; Path=/; Max-Age={KNOWN_FOR_S}; HttpOnly; SameSite=Lax{secure}")
}

/// Whether the way is TLS, which a proxy in front ends. This very machine over plain HTTP is none:
/// WebKit keeps no `Secure` cookie from there, and its listeners would never be known.
fn way_is_safe(headers: &HeaderMap) -> bool {
    let told = headers.get("x-forwarded-proto");
    told.and_then(|value| value.to_str().ok()) == Some("https")
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn cookie_for(header: &'static str, value: &'static str) -> String {
        let mut headers = HeaderMap::new();
        headers.insert(header, HeaderValue::from_static(value));
        set("secret", &headers)
    }

    #[test]
    fn the_cookie_is_bound_to_its_host_where_the_way_is_safe() {
        let cookie = cookie_for("x-forwarded-proto", "https");
        assert!(cookie.starts_with("__Host-listener=secret"), "{cookie}");
        assert!(cookie.contains("Secure"), "{cookie}");
    }

    #[test]
    fn over_a_plain_way_the_cookie_still_reaches_the_browser() {
        for host in ["192.0.2.7:8080", "127.0.0.1:8080", "localhost", "[::1]:1"] {
            let cookie = cookie_for("host", host);
            assert!(cookie.starts_with("listener=secret"), "{cookie}");
            assert!(!cookie.contains("Secure"), "{cookie}");
            assert!(
                cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax"),
                "{cookie}"
            );
        }
    }
}
