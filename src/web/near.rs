//! This machine alone: neither a proxy in front nor another site's name for this address leads to what lies behind.

use std::net::SocketAddr;

use axum::extract::ConnectInfo;
use axum::extract::Request;
use axum::http::HeaderMap;
use axum::http::header::HOST;
use axum::middleware::Next;
use axum::response::Response;

use super::error::WebError;

/// Lets in this machine alone: the other end is a loopback address, and so is the name that the browser asked for.
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
