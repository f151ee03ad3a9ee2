//! What was done otherwise than planned, with its time and its reason, in log, page and report.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::RoundName;

use crate::program::run;
use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

fn spring() -> RoundName {
    "spring".parse().unwrap()
}

/// An open round that was paused and went on.
fn paused() -> Study {
    let study = crate::clinic_child::open();
    app::pause(&study.workspace, &spring(), Now::read()).unwrap();
    app::resume(&study.workspace, &spring(), Now::read()).unwrap();
    study
}

#[test]
fn a_reason_stands_beside_what_was_done_otherwise_and_names_nobody() {
    let study = paused();
    let found = app::otherwise_than_planned(&study.workspace, &spring()).unwrap();
    let said: Vec<_> = found
        .iter()
        .map(|one| one.said.split_once(": ").unwrap().1)
        .collect();
    assert_eq!(said, ["the round was paused", "the round went on"]);
    let event = found[0].event;
    let give = |event: u64, reason: &str| {
        app::explain_deviation(
            &study.workspace,
            &spring(),
            event,
            reason,
            None,
            Now::read(),
        )
    };
    let long = "a".repeat(301);
    for (event, reason) in [
        (1, "The clinic was shut."),
        (event, "  "),
        (event, "C01 was ill."),
        (event, "Holidays (c01)."),
        (event, long.as_str()),
    ] {
        assert!(give(event, reason).is_err(), "{reason}");
    }
    give(event, "The clinic\nwas shut.").unwrap();
    give(event, "The clinic was shut for a week.").unwrap();
    let found = app::otherwise_than_planned(&study.workspace, &spring()).unwrap();
    let reason = found[0].reason.as_ref().unwrap();
    assert_eq!(reason.said, "The clinic was shut for a week.");
    assert_eq!(found[1].reason, None);
    app::close(&study.workspace, &spring(), Now::read()).unwrap();
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    // Also after the close.
    give(found[1].event, "The clinic opened again.").unwrap();
    let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
    let round = app::findings(&study.workspace, &unlocked).unwrap().round;
    let page = fairhearing::report::page(&round).unwrap();
    for told in [
        "the round was paused; the reason, given ",
        ": The clinic was shut for a week.",
        ": The clinic opened again.",
    ] {
        assert!(page.contains(told), "{told}");
    }
    // What somebody typed is not given away.
    let shared = app::shared_findings(&study.workspace, &unlocked).unwrap();
    let shared = serde_json::to_string(&shared.round).unwrap();
    assert!(shared.contains("the round was paused; the reason is not shared"));
    assert!(!shared.contains("clinic"), "{shared}");
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn reasons_are_given_at_the_rounds_page_and_by_the_command() {
    let study = paused();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    let page = desk.get("/desk/rounds/spring", &signed_in).text;
    assert_eq!(page.matches("/desk/rounds/spring/reason").count(), 2);
    let event = app::otherwise_than_planned(&study.workspace, &spring()).unwrap()[0].event;
    let sent = format!("event={event}&reason=Holidays.");
    let given = desk.post("/desk/rounds/spring/reason", &sent, &signed_in);
    assert_eq!(given.status, 303);
    let page = desk.get("/desk/rounds/spring", &signed_in).text;
    assert!(
        page.contains(": Holidays.") && page.matches("/desk/rounds/spring/reason").count() == 1
    );
    let refused = desk.post(
        "/desk/rounds/spring/reason",
        &format!("event={event}&reason="),
        &signed_in,
    );
    assert_eq!(refused.status, 422);
    let audit = desk.get("/desk/audit", &signed_in).text;
    assert!(audit.contains("reason given") && audit.contains("Holidays."));
    drop(desk);
    let folder = study.folder().display().to_string();
    let shared = ["explain", "--round", "spring", "--workspace", &folder];
    let listed = run(&[&shared[..], &["--json"]].concat(), "").json();
    assert_eq!(listed["deviations"][0]["reason"]["said"], "Holidays.");
    let second = listed["deviations"][1]["event"].to_string();
    let given = run(
        &[&shared[..], &["--event", &second, "--reason", "Over."]].concat(),
        "",
    );
    assert_eq!(given.status, 0);
    assert!(given.out.contains(": Over."), "{}", given.out);
    let unknown = run(
        &[&shared[..], &["--event", "1", "--reason", "x"]].concat(),
        "",
    );
    assert_eq!(unknown.status, 2);
}
