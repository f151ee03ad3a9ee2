//! The way on which a request came: from this very machine or from elsewhere, safe or in the clear.

use std::convert::Infallible;
use std::net::IpAddr;
use std::net::Ipv4Addr;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::ConnectInfo;
use axum::extract::FromRequestParts;
use axum::extract::Request;
use axum::extract::State;
use axum::http::Version;
use axum::http::header::HOST;
use axum::http::request::Parts;
use axum::middleware::Next;
use axum::response::Response;

use super::error::WebError;
use super::reached::Reached;

/// The way of one request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Way {
    /// The address at the other end, or that a trusted proxy tells.
    pub(crate) from: IpAddr,
    /// Whether nobody on the way can listen: TLS as far as the browser.
    pub(crate) safe: bool,
    /// Whether browser and server are this very machine.
    pub(crate) this_machine: bool,
}

/// What a proxy adds to a request; a browser on this machine sends none of it.
const PROXYS_HEADERS: [&str; 6] = [
    "forwarded",
    "via",
    "x-forwarded-for",
    "x-forwarded-host",
    "x-forwarded-proto",
    "x-real-ip",
];

impl Way {
    /// The way of a request. `peer`: who opened the connection.
    fn of(reached: &Reached, peer: IpAddr, request: &Parts) -> Self {
        let headers = &request.headers;
        // Some proxies put a line of their own behind the one that came: theirs is the last.
        let told = |name: &str| {
            let last = headers.get_all(name).iter().next_back();
            last.and_then(|value| value.to_str().ok())
        };
        if reached.trusted_proxies.contains(&peer) {
            // The last address is the one that the proxy itself saw; those before it anybody can write.
            let client = told("x-forwarded-for").and_then(|all| all.rsplit(',').next());
            if let Some(from) = client.and_then(|client| client.trim().parse().ok()) {
                return Self {
                    from,
                    safe: told("x-forwarded-proto") == Some("https"),
                    this_machine: false,
                };
            }
        }
        // Not even a proxy that says nothing of itself: most of them speak HTTP/1.0 then, and no browser does.
        let direct = PROXYS_HEADERS
            .iter()
            .all(|name| !headers.contains_key(*name))
            && request.version != Version::HTTP_10;
        Self {
            from: peer,
            safe: reached.tls,
            this_machine: peer.is_loopback() && direct && asked_by_a_loopback_name(request),
        }
    }
}

/// Finds the way of each request, for the handlers behind.
pub(super) async fn find(
    State(reached): State<Arc<Reached>>,
    request: Request,
    next: Next,
) -> Response {
    let (mut parts, body) = request.into_parts();
    let peer = parts.extensions.get::<ConnectInfo<SocketAddr>>();
    // Where nobody tells who is there, it is nobody of this machine.
    let peer = peer.map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |peer| {
        peer.0.ip().to_canonical()
    });
    let way = Way::of(&reached, peer, &parts);
    parts.extensions.insert(way);
    next.run(Request::from_parts(parts, body)).await
}

/// Lets in this machine alone: neither a proxy in front nor another site's name for this address leads to what lies behind.
pub(super) async fn this_machine_only(
    way: Way,
    request: Request,
    next: Next,
) -> Result<Response, WebError> {
    if way.this_machine {
        Ok(next.run(request).await)
    } else {
        Err(WebError::NotFound)
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Way {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        let found = parts.extensions.get::<Self>().cloned();
        // Without the layer in front nothing is known of the way, and nothing is believed of it.
        Ok(found.unwrap_or(Self {
            from: IpAddr::V4(Ipv4Addr::UNSPECIFIED),
            safe: false,
            this_machine: false,
        }))
    }
}

/// Whether the browser asked for this machine by a name that no other site can have.
fn asked_by_a_loopback_name(request: &Parts) -> bool {
    let header = request.headers.get(HOST);
    // HTTP/2 tells the host with the address.
    let host = match request.uri.authority() {
        Some(authority) => authority.as_str(),
        None => header
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default(),
    };
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|digit| digit.is_ascii_digit()) => name,
        _ => host,
    };
    matches!(name, "localhost" | "127.0.0.1" | "[::1]")
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::body::Body;

    const HERE: &str = "127.0.0.1";

    fn asked(uri: &str, version: Version, headers: &[(&str, &str)]) -> Parts {
        let mut request = Request::builder().uri(uri).version(version);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        request.body(Body::empty()).unwrap().into_parts().0
    }

    fn way(reached: &Reached, peer: &str, headers: &[(&str, &str)]) -> Way {
        let request = asked("/desk", Version::HTTP_11, headers);
        Way::of(reached, peer.parse().unwrap(), &request)
    }

    #[test]
    fn this_machine_is_a_loopback_peer_that_asks_by_a_loopback_name() {
        let plain = Reached::default();
        for (peer, host, here) in [
            (HERE, "127.0.0.1:8484", true),
            (HERE, "localhost", true),
            ("::1", "[::1]:80", true),
            (HERE, "clinic.example", false),
            (HERE, "127.0.0.1.clinic.example:80", false),
            ("192.0.2.7", "127.0.0.1:8484", false),
        ] {
            let found = way(&plain, peer, &[("host", host)]);
            assert_eq!(found.this_machine, here, "{peer} {host}");
        }
        assert!(!way(&plain, HERE, &[]).this_machine);
        for (uri, here) in [
            ("https://127.0.0.1:8484/desk", true),
            ("https://clinic.example/desk", false),
        ] {
            let request = asked(uri, Version::HTTP_2, &[]);
            let found = Way::of(&plain, HERE.parse().unwrap(), &request);
            assert_eq!(found.this_machine, here, "{uri}");
        }
    }

    #[test]
    fn a_proxy_on_this_machine_is_not_this_machine() {
        let plain = Reached::default();
        for header in PROXYS_HEADERS {
            let found = way(&plain, HERE, &[("host", "127.0.0.1:8484"), (header, "x")]);
            assert!(!found.this_machine, "{header}");
        }
        let request = asked("/desk", Version::HTTP_10, &[("host", "127.0.0.1:8484")]);
        let silent = Way::of(&plain, HERE.parse().unwrap(), &request);
        assert!(!silent.this_machine);
    }

    #[test]
    fn only_a_trusted_proxy_is_believed() {
        let said = [
            ("x-forwarded-for", "127.0.0.1, 203.0.113.9"),
            ("x-forwarded-proto", "https"),
            ("host", "rating.example"),
        ];
        let stranger = way(&Reached::default(), HERE, &said);
        assert!(!stranger.safe && !stranger.this_machine);
        let reached = Reached {
            trusted_proxies: vec![HERE.parse().unwrap()],
            ..Reached::default()
        };
        let told = way(&reached, HERE, &said);
        assert_eq!(told.from.to_string(), "203.0.113.9");
        assert!(told.safe && !told.this_machine);
        assert!(!way(&reached, "192.0.2.7", &said).safe);
    }

    #[test]
    fn a_line_that_the_client_wrote_before_the_proxys_own_is_not_believed() {
        let reached = Reached {
            trusted_proxies: vec![HERE.parse().unwrap()],
            ..Reached::default()
        };
        let said = [
            ("x-forwarded-for", "198.51.100.1"),
            ("x-forwarded-for", "203.0.113.9"),
            ("x-forwarded-proto", "https"),
            ("x-forwarded-proto", "http"),
        ];
        let told = way(&reached, HERE, &said);
        assert_eq!(told.from.to_string(), "203.0.113.9");
        assert!(!told.safe);
    }
}
