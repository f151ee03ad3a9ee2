//! A listener's browser without a window: plain HTTP, and a record of every byte that came.

use std::collections::BTreeMap;

use axum::body::Body;
use axum::body::to_bytes;
use axum::http::HeaderMap;
use axum::http::Request;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use serde_json::Value;
use serde_json::json;

/// One answer of the server.
#[derive(Debug, Clone)]
pub(crate) struct Received {
    /// The method and the path that were asked.
    pub(crate) asked: String,
    /// The status.
    pub(crate) status: u16,
    /// The headers.
    pub(crate) headers: HeaderMap,
    /// The body.
    pub(crate) body: Vec<u8>,
}

impl Received {
    /// The body as JSON.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// The body as text.
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// A header.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name).and_then(|value| value.to_str().ok())
    }
}

/// A listener's browser.
pub(crate) struct Remote {
    client: Client<HttpConnector, Body>,
    address: String,
    /// What it keeps.
    pub(crate) cookies: BTreeMap<String, String>,
    /// Everything that came, in order.
    pub(crate) received: Vec<Received>,
}

impl Remote {
    /// A fresh browser.
    pub(crate) fn new(address: &str) -> Self {
        Self {
            client: Client::builder(TokioExecutor::new()).build_http(),
            address: address.to_owned(),
            cookies: BTreeMap::new(),
            received: Vec::new(),
        }
    }

    /// Asks, as a script or a link would.
    pub(crate) async fn ask(
        &mut self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: String,
    ) -> Received {
        let mut request = Request::builder()
            .method(method)
            .uri(format!("{}{path}", self.address));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        if !self.cookies.is_empty() {
            let held = self.cookies.iter();
            let held: Vec<_> = held
                .map(|(name, value)| format!("{name}={value}"))
                .collect();
            request = request.header("cookie", held.join("; "));
        }
        let answer = self
            .client
            .request(request.body(Body::from(body)).unwrap())
            .await
            .unwrap();
        let (parts, body) = answer.into_parts();
        let received = Received {
            asked: format!("{method} {path}"),
            status: parts.status.as_u16(),
            headers: parts.headers,
            body: to_bytes(Body::new(body), usize::MAX)
                .await
                .unwrap()
                .to_vec(),
        };
        for set in received.headers.get_all("set-cookie") {
            let set = set.to_str().unwrap();
            let (name, value) = set.split(';').next().unwrap().split_once('=').unwrap();
            if set.contains("Max-Age=0") {
                self.cookies.remove(name);
            } else {
                self.cookies.insert(name.to_owned(), value.to_owned());
            }
        }
        self.received.push(received.clone());
        received
    }

    /// Gets a page or a sound.
    pub(crate) async fn get(&mut self, path: &str) -> Received {
        self.ask("GET", path, &[], String::new()).await
    }

    /// Sends a form.
    pub(crate) async fn post(&mut self, path: &str, form: &str) -> Received {
        let kind = [("content-type", "application/x-www-form-urlencoded")];
        self.ask("POST", path, &kind, form.to_owned()).await
    }

    /// Sends JSON.
    pub(crate) async fn put(&mut self, path: &str, body: &Value) -> Received {
        let kind = [("content-type", "application/json")];
        self.ask("PUT", path, &kind, body.to_string()).await
    }

    /// From the link to the sitting, with the page of each step.
    pub(crate) async fn begin(&mut self, link: &str) {
        for (page, form) in [
            ("/listen/consent", "version=1&agreed=yes"),
            (
                "/listen/sound-check",
                "device=built-in&heard=yes&level_db=-12",
            ),
            ("/listen/begin", ""),
        ] {
            if self.cookies.is_empty() {
                assert_eq!(self.get(link).await.status, 303);
            }
            assert_eq!(self.get("/listen").await.status, 200);
            let sent = self.post(page, form).await;
            assert_eq!(sent.status, 303, "{page}: {}", sent.text());
        }
    }

    /// The names of the words ahead.
    pub(crate) async fn ahead(&mut self) -> Vec<String> {
        let ahead = self.get("/listen/ahead").await.json();
        let words = ahead.as_array().unwrap().iter();
        words
            .map(|word| word["id"].as_str().unwrap().to_owned())
            .collect()
    }

    /// Hears a word to its end and reports it twice, then what names no play.
    pub(crate) async fn report_plays(&mut self, id: &str, number: usize) {
        let address = format!("/listen/played/{id}");
        let play = json!({"play": format!("{number:032x}")});
        for _ in 0..2 {
            let told = self.put(&address, &play).await;
            assert_eq!((told.status, told.json()), (200, json!({"plays": 1})));
        }
        let unfit = self.put(&address, &json!({"play": "no play"})).await;
        assert_eq!(unfit.status, 422);
    }

    /// Judges a word for the first time.
    pub(crate) async fn judge(&mut self, id: &str, answer: &str) -> Received {
        self.put(&format!("/listen/judgement/{id}"), &sent(answer))
            .await
    }
}

/// A first answer as the script sends it.
pub(crate) fn sent(answer: &str) -> Value {
    json!({"answer": answer, "revision": 1, "rt_ms": 700, "rt_grain_ms": 3, "replays": 0})
}
