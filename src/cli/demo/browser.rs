//! What a simulated listener uses for a browser: plain HTTP to this machine, and a cookie.

use std::io;

use serde::de::DeserializeOwned;
use ureq::Agent;
use ureq::Body;
use ureq::http::Response;
use ureq::http::header::CONTENT_TYPE;
use ureq::http::header::COOKIE;
use ureq::http::header::SET_COOKIE;

use crate::app::AppError;

/// A browser that knows one server.
pub(super) struct Browser {
    server: String,
    agent: Agent,
    cookie: String,
}

impl Browser {
    /// A browser without a cookie. `server` is an address such as `http://127.0.0.1:8484`.
    pub(super) fn new(server: &str) -> Self {
        let config = Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false)
            .build();
        Self {
            server: server.to_owned(),
            agent: config.into(),
            cookie: String::new(),
        }
    }

    /// Opens a page; a cookie that comes with it is kept.
    pub(super) fn open(&mut self, path: &str) -> Result<(), AppError> {
        let answer = self.get(path)?;
        let set = answer
            .headers()
            .get(SET_COOKIE)
            .and_then(|cookie| cookie.to_str().ok());
        if let Some(pair) = set.and_then(|cookie| cookie.split(';').next()) {
            pair.clone_into(&mut self.cookie);
        }
        Ok(())
    }

    /// The bytes under an address.
    pub(super) fn bytes(&self, path: &str) -> Result<Vec<u8>, AppError> {
        let mut answer = self.get(path)?;
        answer
            .body_mut()
            .read_to_vec()
            .map_err(|error| unreachable_at(path, error))
    }

    /// The JSON under an address.
    pub(super) fn json<T: DeserializeOwned>(&self, path: &str) -> Result<T, AppError> {
        serde_json::from_slice(&self.bytes(path)?).map_err(|error| unreachable_at(path, error))
    }

    /// Sends a form.
    pub(super) fn submit(&self, path: &str, fields: &[(&str, &str)]) -> Result<(), AppError> {
        let request = self
            .agent
            .post(self.address(path))
            .header(COOKIE, &self.cookie);
        let answer = request.send_form(fields.iter().copied());
        checked(path, answer).map(|_| ())
    }

    /// Puts a JSON value under an address.
    pub(super) fn put(&self, path: &str, value: &serde_json::Value) -> Result<(), AppError> {
        let request = self
            .agent
            .put(self.address(path))
            .header(COOKIE, &self.cookie)
            .header(CONTENT_TYPE, "application/json");
        checked(path, request.send(value.to_string())).map(|_| ())
    }

    fn get(&self, path: &str) -> Result<Response<Body>, AppError> {
        checked(
            path,
            self.agent
                .get(self.address(path))
                .header(COOKIE, &self.cookie)
                .call(),
        )
    }

    fn address(&self, path: &str) -> String {
        format!("{}{path}", self.server)
    }
}

fn checked(
    path: &str,
    answer: Result<Response<Body>, ureq::Error>,
) -> Result<Response<Body>, AppError> {
    let answer = answer.map_err(|error| unreachable_at(path, error))?;
    if answer.status().is_success() || answer.status().is_redirection() {
        Ok(answer)
    } else {
        Err(unreachable_at(
            path,
            format!("the server answered {}", answer.status()),
        ))
    }
}

fn unreachable_at(
    path: &str,
    why: impl Into<Box<dyn std::error::Error + Send + Sync>>,
) -> AppError {
    // A link's secret is not repeated.
    let path = if path.starts_with("/l/") {
        "/l/…"
    } else {
        path
    };
    AppError::File {
        what: "a simulated listener got no answer from",
        path: path.to_owned(),
        source: io::Error::other(why),
    }
}
