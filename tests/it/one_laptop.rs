//! One laptop that is handed round: short codes that open nothing elsewhere, and a hand-over that leaves nothing behind.

use std::collections::BTreeSet;
use std::process::Command;

use fairhearing::app;
use fairhearing::app::listening;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

fn form(code: &str) -> String {
    format!("code={code}")
}

#[tokio::test]
async fn a_code_starts_its_listener_however_it_is_typed() {
    let study = Study::with().practice(0).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    assert_eq!(codes.iter().collect::<BTreeSet<_>>().len(), 2);
    let mut laptop = Remote::new(&server.address);
    assert_eq!(laptop.get("/").await.header("location"), Some("/start"));
    assert_eq!(
        laptop.get("/listen").await.header("location"),
        Some("/start")
    );
    assert_eq!(laptop.get("/start").await.status, 200);
    let typed = codes[0].to_lowercase().replace('-', "%20");
    let started = laptop.post("/start", &form(&typed)).await;
    assert_eq!(started.header("location"), Some("/listen"));
    let set = started.header("set-cookie").unwrap();
    assert!(!set.contains("Max-Age"), "it ends with the browser: {set}");
    assert_eq!(laptop.get("/listen").await.status, 200);
    // The same listener as by her link.
    let events = study.events();
    let opened = events
        .iter()
        .find(|event| event.kind == "link opened")
        .unwrap();
    assert!(
        opened
            .body
            .as_str()
            .contains(study.links()[0].listener.as_str())
    );
    let again = app::listening::codes(&study.workspace).unwrap();
    assert_eq!(
        again.into_iter().map(|one| one.code).collect::<Vec<_>>(),
        codes
    );
}

#[tokio::test]
async fn codes_are_easy_to_read_aloud_and_guessing_them_must_wait() {
    let study = Study::with().listeners(60).judgements(2).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    for code in &codes {
        assert_eq!(code.len(), 7, "{code}");
        let plain = |sign: char| "23456789AFHKMRWX-".contains(sign);
        assert!(code.chars().all(plain), "{code}");
    }
    let mut laptop = Remote::new(&server.address);
    let statuses = |codes: &'static [&'static str]| codes.iter().map(|code| form(code));
    let mut got = Vec::new();
    for wrong in statuses(&["222222", "", "LLLLLL", "%27%20OR%201", "000000", "333333"]) {
        got.push(laptop.post("/start", &wrong).await.status);
    }
    assert_eq!(got, [404, 404, 404, 404, 404, 429]);
    assert_eq!(laptop.post("/start", &form(&codes[0])).await.status, 429);
}

#[tokio::test]
async fn after_the_hand_over_nothing_of_the_last_listener_is_left() {
    let study = Study::with().practice(0).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    let mut laptop = Remote::new(&server.address);
    laptop.post("/start", &form(&codes[0])).await;
    laptop.begin("").await;
    let first = laptop.ahead().await;
    let old = laptop.cookies.clone();
    // Nobody else starts before the laptop is handed over.
    assert_eq!(
        laptop.get("/start").await.header("location"),
        Some("/hand-over")
    );
    let barged = laptop.post("/start", &form(&codes[1])).await;
    assert_eq!(barged.header("location"), Some("/hand-over"));
    assert_eq!(laptop.get("/hand-over").await.status, 200);
    let handed = laptop.post("/hand-over", "").await;
    assert_eq!(handed.header("location"), Some("/start"));
    assert_eq!(handed.header("clear-site-data"), Some("\"cache\""));
    assert!(laptop.cookies.is_empty(), "{:?}", laptop.cookies);
    // Even a browser that kept the cookie is nobody now.
    let mut keeps = Remote::new(&server.address);
    keeps.cookies = old;
    assert_eq!(
        keeps.get("/listen").await.header("location"),
        Some("/start")
    );
    assert_eq!(keeps.get("/listen/ahead").await.status, 401);
    assert_eq!(
        laptop.get("/listen").await.header("location"),
        Some("/start")
    );
    laptop.post("/start", &form(&codes[1])).await;
    laptop.begin("").await;
    for id in &first {
        assert_eq!(laptop.get(&format!("/listen/sound/{id}")).await.status, 404);
        assert_eq!(
            laptop.judge(id, "correct").await.status,
            404,
            "not in her name"
        );
    }
    laptop.post("/hand-over", "").await;
    // The first one goes on where she stopped; her level went with the hand-over, so the sound is checked.
    laptop.post("/start", &form(&codes[0])).await;
    laptop.check_sound().await;
    assert_eq!(laptop.ahead().await, first);
}

#[tokio::test]
async fn codes_open_nothing_where_listeners_come_over_the_network() {
    let study = Study::with().sealed();
    let codes = listening::codes(&study.workspace).unwrap();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    for path in ["/start", "/hand-over"] {
        assert_eq!(remote.get(path).await.status, 404, "{path}");
    }
    assert_eq!(
        remote.post("/start", &form(&codes[0].code)).await.status,
        404
    );
    let (laptop, _) = Server::start_for_one_laptop(&study.folder());
    let mut elsewhere = Remote::new(&laptop.address);
    for path in ["/start", "/hand-over"] {
        let got = elsewhere
            .ask("GET", path, &[("host", "clinic.example")], String::new())
            .await;
        assert_eq!(got.status, 404, "{path} by another name");
    }
    assert_eq!(
        elsewhere.get("/desk").await.status,
        404,
        "no staff's pages on it"
    );
}

#[test]
fn a_laptop_that_others_could_reach_is_refused() {
    let study = Study::with().sealed();
    let refused = Command::new(env!("CARGO_BIN_EXE_fairhearing"))
        .args([
            "serve",
            "--one-laptop",
            "--listen",
            "0.0.0.0:0",
            "--workspace",
        ])
        .arg(study.folder())
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(2), "{refused:?}");
    assert!(refused.stdout.is_empty());
}
