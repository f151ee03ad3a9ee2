//! What stands between a browser and the server: it can make the browser look old, and hold answers back.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use axum::Router;
use axum::body::Body;
use axum::extract::Request;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::Method;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::response::Response;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;

/// A proxy on a port of its own. It leaves out what browsers before 2021 to 2023 did not send (`Sec-Fetch-…`).
pub(crate) struct Proxy {
    /// Where it listens, such as `http://127.0.0.1:34567`.
    pub(crate) address: String,
    /// Whether answers on their way to the server are held back.
    holds: Arc<AtomicBool>,
}

#[derive(Clone)]
struct Between {
    server: String,
    client: Client<HttpConnector, Body>,
    holds: Arc<AtomicBool>,
}

impl Proxy {
    /// Stands before a server.
    pub(crate) async fn before(server: &str) -> Self {
        let holds = Arc::new(AtomicBool::new(false));
        let between = Between {
            server: server.to_owned(),
            client: Client::builder(TokioExecutor::new()).build_http(),
            holds: Arc::clone(&holds),
        };
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let routes = Router::new().fallback(pass_on).with_state(between);
        tokio::spawn(async move { axum::serve(listener, routes).await });
        Self { address, holds }
    }

    /// Holds answers back from now on, or lets them through.
    pub(crate) fn hold_answers(&self, holds: bool) {
        self.holds.store(holds, Ordering::SeqCst);
    }
}

async fn pass_on(State(between): State<Between>, request: Request) -> Response {
    if request.method() == Method::PUT && between.holds.load(Ordering::SeqCst) {
        return StatusCode::BAD_GATEWAY.into_response();
    }
    let (parts, body) = request.into_parts();
    let mut headers = HeaderMap::new();
    for (name, value) in &parts.headers {
        if !name.as_str().starts_with("sec-fetch-") {
            headers.append(name, value.clone());
        }
    }
    let path = parts.uri.path_and_query().unwrap().as_str();
    let mut onward = axum::http::Request::builder()
        .method(parts.method)
        .uri(format!("{}{path}", between.server))
        .body(body)
        .unwrap();
    *onward.headers_mut() = headers;
    match between.client.request(onward).await {
        Ok(answer) => answer.map(Body::new),
        Err(_) => StatusCode::BAD_GATEWAY.into_response(),
    }
}
