//! The cookie by which a browser is known again; it holds a random secret and nothing else.

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::HeaderValue;
use axum::http::header::HOST;
use axum::http::header::SET_COOKIE;
use axum::http::request::Parts;
use axum::response::Response;
use axum_extra::extract::CookieJar;

use super::error::ListenerError;
use super::room::Room;
use super::room::Served;
use crate::web::way::Way;

/// The names of the cookie. Browsers send one to every port of a host, so a laptop that is handed round has names of its own.
struct Names {
    /// Where the way to the browser is safe; the prefix binds the cookie to this very host.
    safe: &'static str,
    /// Where it is not, and on this machine itself, where some browsers take no cookie of the other kind.
    plain: &'static str,
}

const fn names(served: Served) -> Names {
    match served {
        Served::Everywhere => Names {
            safe: "__Host-listener",
            plain: "listener",
        },
        Served::OneLaptop => Names {
            safe: "__Host-laptop",
            plain: "laptop",
        },
    }
}

/// Holds the path of her own link, on its way from an open link to the page that shows it once.
const WAY_BACK: &str = "way-back";

/// How long a browser is known: 90 days (ours), longer than a round is likely to be open.
const KNOWN_FOR_S: u32 = 90 * 24 * 60 * 60;

/// The cookie of the listener's browser.
pub(super) struct Known(pub(super) String);

impl FromRequestParts<Room> for Known {
    type Rejection = ListenerError;

    async fn from_request_parts(parts: &mut Parts, room: &Room) -> Result<Self, ListenerError> {
        held(&parts.headers, room.served)
            .map(Self)
            .ok_or(ListenerError::NoListener)
    }
}

/// The secret that a browser holds, if it holds one.
pub(super) fn held(headers: &HeaderMap, served: Served) -> Option<String> {
    let jar = CookieJar::from_headers(headers);
    let names = names(served);
    jar.get(names.safe)
        .or_else(|| jar.get(names.plain))
        .map(|cookie| cookie.value().to_owned())
}

/// The `Set-Cookie` header: out of reach for scripts, sent to this host alone, and over a safe way
/// alone where the way is safe.
pub(super) fn set(secret: &str, way: &Way, served: Served) -> String {
    let until_closed = set_until_closed(secret, way, served);
    format!("{until_closed}; Max-Age={KNOWN_FOR_S}")
}

/// The same, forgotten when the browser ends.
pub(super) fn set_until_closed(secret: &str, way: &Way, served: Served) -> String {
    let names = names(served);
    let (name, secure) = if way.safe {
        (names.safe, "; Secure")
    } else {
        (names.plain, "")
    };
    format!("{name}={secret}; Path=/; HttpOnly; SameSite=Lax{secure}")
}

/// The headers that take every cookie of a listener's browser away.
pub(super) fn forget(way: &Way, served: Served) -> [String; 3] {
    let names = names(served);
    let gone = "Path=/; Max-Age=0; HttpOnly; SameSite=Lax";
    [
        format!("{}=; {gone}; Secure", names.safe),
        format!("{}=; {gone}", names.plain),
        forget_way_back(way),
    ]
}

/// Keeps the path of her own link for the page that shows it, for half an hour at most.
pub(super) fn set_way_back(path: &str, way: &Way) -> String {
    let secure = if way.safe { "; Secure" } else { "" };
    format!(
        "{WAY_BACK}={path}; Path=/listen/way-back; Max-Age=1800; HttpOnly; SameSite=Strict{secure}"
    )
}

/// The path of her own link, where the browser still keeps it.
pub(super) fn way_back(headers: &HeaderMap) -> Option<String> {
    let jar = CookieJar::from_headers(headers);
    jar.get(WAY_BACK).map(|cookie| cookie.value().to_owned())
}

/// Takes it away.
pub(super) fn forget_way_back(way: &Way) -> String {
    let secure = if way.safe { "; Secure" } else { "" };
    format!("{WAY_BACK}=; Path=/listen/way-back; Max-Age=0; HttpOnly; SameSite=Strict{secure}")
}

/// Adds a `Set-Cookie` header to an answer.
pub(super) fn append(response: &mut Response, set: &str) {
    if let Ok(set) = HeaderValue::from_str(set) {
        response.headers_mut().append(SET_COOKIE, set);
    }
}

/// The address of the server as the browser knows it.
pub(super) fn origin(headers: &HeaderMap, way: &Way) -> String {
    let host = headers.get(HOST).and_then(|value| value.to_str().ok());
    let scheme = if way.safe { "https" } else { "http" };
    format!("{scheme}://{}", host.unwrap_or_default())
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
        set("secret", &way, Served::Everywhere)
    }

    #[test]
    fn the_cookie_is_bound_to_its_host_where_the_way_is_safe() {
        let cookie = cookie_on(true);
        assert!(cookie.starts_with("__Host-listener=secret"), "{cookie}");
        assert!(cookie.contains("Secure"), "{cookie}");
    }

    #[test]
    fn a_laptop_that_is_handed_round_knows_nobody_of_the_server_beside_it() {
        let mut headers = HeaderMap::new();
        let cookie = HeaderValue::from_static("listener=hers; __Host-listener=hers");
        headers.insert(axum::http::header::COOKIE, cookie);
        assert_eq!(held(&headers, Served::Everywhere).as_deref(), Some("hers"));
        assert_eq!(held(&headers, Served::OneLaptop), None);
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
