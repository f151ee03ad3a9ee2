//! Withdrawing by the receipt: out of every result, told by the log, and nobody learns who.

use std::process::Command;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Withdrawal;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::RoundName;
use fairhearing::web::Reached;
use serde_json::Value;

use crate::support::Desk;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::listen;

fn name() -> RoundName {
    RoundName::new("spring").unwrap()
}

/// A study whose three listeners are done, with their receipts; the first alone says 'distorted'.
fn done() -> (Study, Vec<String>) {
    let study = Study::with().listeners(3).judgements(3).sealed();
    let receipts = study.links().iter().map(|link| {
        let answer = if link.number == 1 { Distorted } else { Correct };
        listen(&study.workspace, link, |_| answer)
    });
    let receipts = receipts.collect();
    (study, receipts)
}

fn form(receipt: &str) -> String {
    format!("receipt={}&sure=yes", receipt.replace(' ', "+"))
}

#[tokio::test]
async fn whoever_holds_a_receipt_withdraws_and_stands_in_no_result() {
    let (study, receipts) = done();
    app::close(&study.workspace, &name(), Now::read()).unwrap();
    app::unlock(&study.workspace, &name(), Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &name()).unwrap();
    let before = app::findings(&study.workspace, &unlocked).unwrap().round;
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    let page = remote.get("/withdraw").await;
    assert_eq!(page.status, 200);
    // Typed as people type: small letters and spaces.
    let typed = receipts[0].to_lowercase().replace('-', " - ");
    assert_eq!(remote.post("/withdraw", &form(&typed)).await.status, 200);
    // Again: the same answer, and nothing more is written.
    let events = study.events().len();
    assert_eq!(
        remote.post("/withdraw", &form(&receipts[0])).await.status,
        200
    );
    assert_eq!(study.events().len(), events);
    let after = app::findings(&study.workspace, &unlocked).unwrap().round;
    assert_eq!(before.listeners.listeners.len(), 3);
    assert_eq!(after.listeners.listeners.len(), 2);
    assert!(
        after
            .outcome
            .sessions
            .iter()
            .all(|row| row.proportion_correct == Some(1.0))
    );
    assert!(
        before
            .outcome
            .sessions
            .iter()
            .all(|row| row.proportion_correct < Some(1.0))
    );
    assert_eq!(
        (
            after.round.withdrawn,
            after.flow["withdrew"],
            after.flow["finished"]
        ),
        (1, 1, 3)
    );
    let report = fairhearing::report::page(&after).unwrap();
    assert!(
        report.contains("1 of those who finished withdrew"),
        "{report}"
    );
    assert_eq!(
        study.judgements().len(),
        3 * 18,
        "all of it is kept in the study"
    );
    let code = study.links()[0].listener.to_string();
    assert!(!report.contains(&code));
    for event in study
        .events()
        .iter()
        .filter(|event| event.kind == "listener withdrew")
    {
        assert!(!event.body.as_str().contains(&code), "{:?}", event.body);
    }
    let verified = app::verify(&study.workspace, &receipts).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[tokio::test]
async fn a_number_that_is_nobody_s_withdraws_nobody_and_guessing_must_wait() {
    let (study, receipts) = done();
    let server = Server::start(&study.folder());
    // A server that starts offers an address for the first account, and logs that.
    let events = study.events().len();
    let mut remote = Remote::new(&server.address);
    let sheet = study.round.as_ref().unwrap().receipt.clone();
    assert_eq!(
        remote.post("/withdraw", &form(&sheet)).await.status,
        404,
        "the seal's receipt"
    );
    let mistyped = receipts[0].replacen('-', "-A", 1);
    let again = remote.post("/withdraw", &form(&mistyped)).await;
    assert_eq!(again.status, 422);
    let kept = format!("value=\"{mistyped}\"");
    assert!(again.text().contains(&kept), "what was typed can be mended");
    let unsure = format!("receipt={}", receipts[0]);
    assert_eq!(remote.post("/withdraw", &unsure).await.status, 422);
    let mut last = 0;
    for _ in 0..30 {
        last = remote.post("/withdraw", &form(&sheet)).await.status;
    }
    assert_eq!(last, 429);
    assert_eq!(
        remote.post("/withdraw", &form(&receipts[0])).await.status,
        429,
        "nobody knows who asks from there"
    );
    assert_eq!(study.events().len(), events);
}

#[test]
fn whoever_guesses_receipts_keeps_nobody_else_from_withdrawing() {
    let (study, receipts) = done();
    let reached = Reached {
        public_url: Some("https://rating.example".to_owned()),
        trusted_proxies: vec!["127.0.0.1".parse().unwrap()],
        ..Reached::default()
    };
    let server = Desk::reached(&study, reached, None);
    let from = |address: &str, receipt: &str| {
        let headers = [
            ("host", "rating.example"),
            ("x-forwarded-for", address),
            ("x-forwarded-proto", "https"),
        ];
        server.post("/withdraw", &form(receipt), &headers).status
    };
    let sheet = study.round.as_ref().unwrap().receipt.clone();
    let guesses: Vec<_> = (0..30).map(|_| from("203.0.113.9", &sheet)).collect();
    assert_eq!((guesses[0], guesses[29]), (404, 429));
    assert_eq!(from("203.0.113.9", &receipts[0]), 429);
    assert_eq!(from("198.51.100.4", &receipts[0]), 200);
}

#[tokio::test]
async fn who_withdrew_is_told_so_and_her_places_go_to_others() {
    let study = Study::with().listeners(3).judgements(2).sealed();
    let receipts: Vec<_> = study.links()[..2]
        .iter()
        .map(|link| listen(&study.workspace, link, |_| Correct))
        .collect();
    let server = Server::start(&study.folder());
    let mut first = Remote::new(&server.address);
    assert_eq!(first.get(&study.links()[0].path).await.status, 303);
    app::withdraw_listener(&study.workspace, &receipts[0], Now::read()).unwrap();
    let told = first.get("/listen").await;
    assert_eq!(told.status, 410);
    assert!(told.text().contains("You have withdrawn"));
    assert!(
        !told.text().contains("href=\"/listen\""),
        "there is no page to go back to"
    );
    let mut asked = 0;
    listen(&study.workspace, &study.links()[2], |_| {
        asked += 1;
        Correct
    });
    // Without the withdrawal every word would have had its two judgements.
    assert_eq!(asked, 18);
    let progress = app::progress(&study.workspace).unwrap().remove(0);
    assert!(progress.strata.values().all(|counts| *counts == (2, 2)));
    assert_eq!((progress.withdrew, progress.listeners.len()), (1, 2));
}

#[test]
fn the_command_withdraws_too_and_refuses_what_is_no_receipt() {
    let (study, receipts) = done();
    let run = |receipt: &str| {
        Command::new(env!("CARGO_BIN_EXE_fairhearing"))
            .args(["withdraw", "--json", "--receipt", receipt, "--workspace"])
            .arg(study.folder())
            .output()
            .unwrap()
    };
    let done = run(&receipts[1]);
    assert!(done.status.success(), "{done:?}");
    let said: Value = serde_json::from_slice(&done.stdout).unwrap();
    let receipt = said["receipt"].as_str().unwrap().to_owned();
    for refused in [&receipts[1], "hello", &receipt] {
        let refused = run(refused);
        assert_eq!(refused.status.code(), Some(2), "{refused:?}");
        assert!(refused.stdout.is_empty());
    }
    let verified = app::verify(&study.workspace, &[receipt]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[test]
fn a_withdrawal_that_was_tampered_with_is_found() {
    let (study, receipts) = done();
    let done = app::withdraw_listener(&study.workspace, &receipts[0], Now::read()).unwrap();
    assert!(matches!(done, Withdrawal::Done { .. }));
    let file = rusqlite::Connection::open(study.database()).unwrap();
    let found = |sql: &str, back: &str| {
        file.execute_batch(sql).unwrap();
        let found = app::verify(&study.workspace, &[]).unwrap().findings;
        file.execute_batch(back).unwrap();
        assert!(!found.is_empty(), "{sql}");
    };
    // Somebody else is put in her place.
    let move_it = |from: u32, to: u32| {
        format!(
            "UPDATE listener SET withdrawn_ms = (SELECT withdrawn_ms FROM listener WHERE id = {from}),
                    withdrawn_salt = (SELECT withdrawn_salt FROM listener WHERE id = {from}) WHERE id = {to};
             UPDATE listener SET withdrawn_ms = NULL, withdrawn_salt = NULL WHERE id = {from};"
        )
    };
    found(&move_it(1, 2), &move_it(2, 1));
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}
