//! The staff's pages: who comes in, what is told before a round is unlocked, and what after.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::Judgement;
use fairhearing::study::RoundName;
use fairhearing::web;
use ureq::Agent;

use crate::support::Labels;
use crate::support::Study;
use crate::support::elements;
use crate::support::listen;

const SECRET: &str = "a-secret-for-one-browser";

#[test]
fn the_link_lets_one_browser_in_and_nobody_else() {
    let study = Study::with().sealed();
    let server = Served::of(&study);
    assert_eq!(server.get("/desk", &[]).0, 404, "without the link");
    assert_eq!(server.get("/desk/open/another", &[]).0, 404);
    let cookie = server.come_in();
    assert_eq!(
        server.get(&format!("/desk/open/{SECRET}"), &[]).0,
        404,
        "a second time"
    );
    assert_eq!(server.get("/desk", &[("cookie", &cookie)]).0, 200);
    assert_eq!(server.get("/desk", &[("cookie", "desk=guessed")]).0, 404);
    let elsewhere = [("cookie", cookie.as_str()), ("host", "clinic.example")];
    assert_eq!(
        server.get("/desk", &elsewhere).0,
        404,
        "through a proxy or another name"
    );
}

#[test]
fn before_unlocking_a_round_s_page_tells_progress_and_no_child() {
    let study = Study::with().labels(Labels::markers()).sealed();
    listen(&study.workspace, &study.links()[0], |_| Judgement::Correct);
    let server = Served::of(&study);
    let cookie = server.come_in();
    let (status, page) = server.get("/desk/rounds/spring", &[("cookie", &cookie)]);
    assert_eq!(status, 200);
    let labels = Labels::markers();
    let secret = labels
        .phases
        .iter()
        .chain(&labels.cohorts)
        .chain([&labels.child, &labels.file]);
    for label in secret {
        assert!(!page.contains(label.as_str()), "{label}");
    }
    // Two children with two sessions of three words, two judgements wanted of each; one listener of two is done.
    let text: Vec<String> = elements(&page).into_iter().map(|e| e.text).collect();
    assert!(text.iter().any(|t| t == "12 of 24"), "{text:?}");
    assert_eq!(text.iter().filter(|t| *t == "finished").count(), 1);
    assert_eq!(
        server
            .get("/desk/rounds/spring/results", &[("cookie", &cookie)])
            .0,
        404
    );
    assert_eq!(
        server.get("/desk/rounds/autumn", &[("cookie", &cookie)]).0,
        404
    );
}

#[test]
fn after_unlocking_the_results_are_the_report() {
    let study = Study::with().sealed();
    for link in study.links() {
        listen(&study.workspace, link, |_| Judgement::Correct);
    }
    let name = RoundName::new("spring").unwrap();
    app::close(&study.workspace, &name, Now::read()).unwrap();
    app::unlock(&study.workspace, &name, Now::read()).unwrap();
    let server = Served::of(&study);
    let cookie = server.come_in();
    let (status, page) = server.get("/desk/rounds/spring/results", &[("cookie", &cookie)]);
    assert_eq!(status, 200);
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    assert_eq!(page, fairhearing::report::page(&found.round).unwrap());
}

#[test]
fn the_desk_tells_what_was_recorded_and_which_rounds_there_are() {
    let study = Study::with().peers(1).sealed();
    let server = Served::of(&study);
    let cookie = server.come_in();
    // Two children with two sessions of three words, and a peer with as many.
    for (page, told) in [
        (
            "/desk",
            &["Harbour study", "C01", "C02", "C03", "peer"] as &[&str],
        ),
        ("/desk/recordings", &["12 scored, 6 peer, 2 check"]),
        ("/desk/rounds", &["spring", "hidden"]),
    ] {
        let (status, page) = server.get(page, &[("cookie", &cookie)]);
        assert_eq!(status, 200);
        let text: Vec<String> = elements(&page).into_iter().map(|e| e.text).collect();
        for told in told {
            assert!(text.iter().any(|t| t.starts_with(told)), "{told}: {text:?}");
        }
    }
}

/// A study on a port of its own.
struct Served {
    address: String,
    agent: Agent,
    _runtime: tokio::runtime::Runtime,
}

impl Served {
    fn of(study: &Study) -> Self {
        let routes = web::routes(study.workspace.clone(), web::Door::new(SECRET)).unwrap();
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let any = "127.0.0.1:0".parse().unwrap();
        let server = runtime.block_on(web::Server::bind(any)).unwrap();
        let address = format!("http://{}", server.address());
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

    fn get(&self, path: &str, headers: &[(&str, &str)]) -> (u16, String) {
        let mut request = self.agent.get(format!("{}{path}", self.address));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let mut answer = request.call().unwrap();
        let status = answer.status().as_u16();
        (status, answer.body_mut().read_to_string().unwrap())
    }

    /// Opens the one-time link; returns the cookie that came with it.
    fn come_in(&self) -> String {
        let path = web::Door::path(SECRET);
        let answer = self
            .agent
            .get(format!("{}{path}", self.address))
            .call()
            .unwrap();
        assert_eq!(answer.status().as_u16(), 303);
        assert_eq!(answer.headers()["location"], "/desk");
        let set = answer.headers()["set-cookie"].to_str().unwrap();
        assert!(
            set.contains("HttpOnly") && set.contains("SameSite"),
            "{set}"
        );
        set.split(';').next().unwrap().to_owned()
    }
}
