//! What stands between a browser and the server: it makes the browser look old, and can refuse answers itself.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU16;
use std::sync::atomic::AtomicU32;
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
    refuses: Arc<Refuses>,
}

/// What it does with answers on their way to the server.
#[derive(Default)]
struct Refuses {
    /// The status under which it refuses them; 0 lets them through.
    with: AtomicU16,
    /// How many it has refused.
    count: AtomicU32,
    /// Whether it takes them and says nothing.
    swallows: AtomicBool,
    /// How many it has swallowed.
    swallowed: AtomicU32,
}

#[derive(Clone)]
struct Between {
    server: String,
    client: Client<HttpConnector, Body>,
    refuses: Arc<Refuses>,
}

impl Proxy {
    /// Stands before a server.
    pub(crate) async fn before(server: &str) -> Self {
        let refuses = Arc::new(Refuses::default());
        let between = Between {
            server: server.to_owned(),
            client: Client::builder(TokioExecutor::new()).build_http(),
            refuses: Arc::clone(&refuses),
        };
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let routes = Router::new().fallback(pass_on).with_state(between);
        tokio::spawn(async move { axum::serve(listener, routes).await });
        Self { address, refuses }
    }

    /// Holds answers back from now on, or lets them through.
    pub(crate) fn hold_answers(&self, holds: bool) {
        self.refuse_answers(holds.then_some(StatusCode::BAD_GATEWAY));
    }

    /// Refuses answers in the server's stead from now on, or lets them through.
    pub(crate) fn refuse_answers(&self, with: Option<StatusCode>) {
        let with = with.map_or(0, |status| status.as_u16());
        self.refuses.with.store(with, Ordering::SeqCst);
    }

    /// Takes answers and says nothing from now on, or lets them through.
    pub(crate) fn swallow_answers(&self, swallows: bool) {
        self.refuses.swallows.store(swallows, Ordering::SeqCst);
    }

    /// How many answers it has swallowed.
    pub(crate) fn swallowed(&self) -> u32 {
        self.refuses.swallowed.load(Ordering::SeqCst)
    }

    /// How many answers it has refused.
    pub(crate) fn refused(&self) -> u32 {
        self.refuses.count.load(Ordering::SeqCst)
    }
}

async fn pass_on(State(between): State<Between>, request: Request) -> Response {
    let with = between.refuses.with.load(Ordering::SeqCst);
    if request.method() == Method::PUT && with > 0 {
        between.refuses.count.fetch_add(1, Ordering::SeqCst);
        return (StatusCode::from_u16(with).unwrap(), "No way through.").into_response();
    }
    if request.method() == Method::PUT && between.refuses.swallows.load(Ordering::SeqCst) {
        between.refuses.swallowed.fetch_add(1, Ordering::SeqCst);
        std::future::pending::<()>().await;
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
