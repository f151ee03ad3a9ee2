//! The desk of a study on a port of its own, and people who sign in to it without a browser.

use std::collections::BTreeSet;
use std::io::BufRead;
use std::io::BufReader;

use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::app::accounts;
use fairhearing::app::accounts::NewPassword;
use fairhearing::app::accounts::Rights;
use fairhearing::study::AccountName;
use fairhearing::study::ChildCode;
use fairhearing::web;
use fairhearing::web::Reached;
use fairhearing::web::TlsFiles;
use ureq::Agent;

use super::Study;

/// The password of every account of the tests.
pub(crate) const PASSWORD: &str = "harbour wall at noon";

/// Makes an account with the password of the tests; children make it a clinician's. Gives its code.
#[track_caller]
pub(crate) fn account(study: &Study, name: &str, role: &str, children: &[&str]) -> String {
    let name = AccountName::new(name).unwrap();
    let children: BTreeSet<_> = children
        .iter()
        .map(|code| ChildCode::new(code).unwrap())
        .collect();
    let rights = Rights::new(role.parse().unwrap(), children).unwrap();
    let made = accounts::add_account(&study.workspace, &name, rights, None, Now::read()).unwrap();
    let secret = accounts::offer_password_link(&study.workspace, &name, None, Now::read()).unwrap();
    let password = NewPassword::new(PASSWORD, &name).unwrap();
    accounts::set_password_by_link(&study.workspace, &secret, &password, Now::read())
        .unwrap()
        .unwrap();
    made.code.to_string()
}

/// What came back.
pub(crate) struct Answer {
    pub(crate) status: u16,
    /// The body, as text where it is text.
    pub(crate) text: String,
    pub(crate) bytes: Vec<u8>,
    headers: ureq::http::HeaderMap,
}

impl Answer {
    /// A header, or nothing.
    pub(crate) fn header(&self, name: &str) -> &str {
        let value = self.headers.get(name);
        value.map_or("", |value| value.to_str().unwrap())
    }

    /// The cookie that was set, as a browser sends it back.
    #[track_caller]
    pub(crate) fn cookie(&self) -> String {
        let set = self.header("set-cookie");
        assert!(
            set.contains("HttpOnly") && set.contains("SameSite=Lax"),
            "{set}"
        );
        set.split(';').next().unwrap().to_owned()
    }
}

/// The server of a study, in this process.
pub(crate) struct Desk {
    pub(crate) address: String,
    agent: Agent,
    _runtime: tokio::runtime::Runtime,
}

impl Desk {
    /// As `serve` starts it without options.
    pub(crate) fn of(study: &Study) -> Self {
        Self::reached(study, Reached::default(), None)
    }

    /// With options on how it is reached.
    pub(crate) fn reached(study: &Study, reached: Reached, tls: Option<&TlsFiles>) -> Self {
        Self::serving(&study.workspace, reached, tls)
    }

    /// Of any workspace.
    pub(crate) fn serving(
        workspace: &Workspace,
        mut reached: Reached,
        tls: Option<&TlsFiles>,
    ) -> Self {
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let any = "127.0.0.1:0".parse().unwrap();
        let server = runtime.block_on(web::Server::bind(any, tls)).unwrap();
        reached.listens = Some(server.address());
        reached.tls = tls.is_some();
        let scheme = if tls.is_some() { "https" } else { "http" };
        let address = format!("{scheme}://{}", server.address());
        let routes = web::routes(workspace.clone(), reached, None).unwrap();
        runtime.spawn(server.run(routes, std::future::pending()));
        let config = Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false)
            .build();
        Self {
            address,
            agent: config.into(),
            _runtime: runtime,
        }
    }

    /// Asks for a page.
    pub(crate) fn get(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = self.agent.get(format!("{}{path}", self.address));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        answered(request.call().unwrap())
    }

    /// Asks for events, which are read as they come.
    pub(crate) fn events(&self, path: &str, cookie: &str) -> impl BufRead + use<> {
        let request = self.agent.get(format!("{}{path}", self.address));
        let answer = request.header("cookie", cookie).call().unwrap();
        assert_eq!(answer.headers()["content-type"], "text/event-stream");
        BufReader::new(answer.into_body().into_reader())
    }

    /// Sends a form.
    pub(crate) fn post(&self, path: &str, form: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = self.agent.post(format!("{}{path}", self.address));
        request = request.header("content-type", "application/x-www-form-urlencoded");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        answered(request.send(form).unwrap())
    }

    /// Puts nothing to an address.
    pub(crate) fn put(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = self.agent.put(format!("{}{path}", self.address));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        answered(request.send_empty().unwrap())
    }

    /// Signs in by the form and gives the cookie.
    #[track_caller]
    pub(crate) fn sign_in(&self, name: &str) -> String {
        let form = format!("name={name}&password={}", PASSWORD.replace(' ', "+"));
        let answer = self.post("/desk/sign-in", &form, &[]);
        assert_eq!((answer.status, answer.header("location")), (303, "/desk"));
        answer.cookie()
    }
}

fn answered(mut answer: ureq::http::Response<ureq::Body>) -> Answer {
    let headers = answer.headers().clone();
    // Events go on for as long as somebody follows them.
    let endless = headers
        .get("content-type")
        .is_some_and(|kind| kind == "text/event-stream");
    let bytes = if endless {
        Vec::new()
    } else {
        answer.body_mut().read_to_vec().unwrap()
    };
    Answer {
        status: answer.status().as_u16(),
        headers,
        text: String::from_utf8_lossy(&bytes).into_owned(),
        bytes,
    }
}
