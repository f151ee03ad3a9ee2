//! Accounts of the desk: the first one, a lost password, sessions and their end, and what the log tells.

use std::net::IpAddr;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::accounts;
use fairhearing::app::accounts::OneTimeLink;
use fairhearing::app::accounts::SignIn;
use fairhearing::study::AccountName;

use crate::program::run;
use crate::support::Desk;
use crate::support::PASSWORD;
use crate::support::Study;
use crate::support::account;

const FORM: &str = "name=Ada&password=harbour+wall+at+noon&again=harbour+wall+at+noon";
const MINUTE_MS: i64 = 60_000;

fn here() -> IpAddr {
    IpAddr::from([127, 0, 0, 1])
}

#[track_caller]
fn session(study: &Study, name: &str, now: Now) -> String {
    match accounts::sign_in(&study.workspace, name, PASSWORD, here(), now).unwrap() {
        SignIn::In(secret) => secret,
        other => panic!("{other:?}"),
    }
}

fn kinds(study: &Study) -> Vec<String> {
    study.events().into_iter().map(|event| event.kind).collect()
}

fn count(study: &Study, kind: &str) -> usize {
    kinds(study).iter().filter(|found| *found == kind).count()
}

#[test]
fn the_first_address_makes_one_account_and_is_used_up() {
    let study = Study::with().made();
    let secret = accounts::offer_first_link(&study.workspace, Now::read())
        .unwrap()
        .unwrap();
    let desk = Desk::of(&study);
    let path = format!("/desk/first/{secret}");
    for _ in 0..2 {
        assert_eq!(
            desk.get(&path, &[]).status,
            200,
            "looking does not use it up"
        );
    }
    let short = desk.post(&path, "name=Ada&password=short&again=short", &[]);
    assert_eq!(short.status, 422);
    assert!(short.text.contains("take 12 to 256"), "{}", short.text);
    let unlike = desk.post(&path, &FORM.replace("again=h", "again=H"), &[]);
    assert_eq!(unlike.status, 422);
    let made = desk.post(&path, FORM, &[]);
    assert_eq!((made.status, made.header("location")), (303, "/desk"));
    assert_eq!(desk.get("/desk", &[("cookie", &made.cookie())]).status, 200);
    assert_eq!(desk.get(&path, &[]).status, 404, "used up");
    assert_eq!(desk.post(&path, FORM, &[]).status, 404);
    let again = accounts::offer_first_link(&study.workspace, Now::read()).unwrap();
    assert_eq!(again, None, "there is somebody who can do everything");
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}

#[test]
fn a_lost_password_is_reset_on_the_machine_and_ends_every_session() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let before = desk.sign_in("Ada");
    let folder = study.folder();
    let ran = run(
        &[
            "account",
            "reset",
            "Ada",
            "--workspace",
            folder.to_str().unwrap(),
            "--json",
        ],
        "",
    );
    let url = ran.json()["url"].as_str().unwrap().to_owned();
    let path = url.strip_prefix("http://127.0.0.1:8484").unwrap();
    assert_eq!(
        desk.get("/desk", &[("cookie", &before)]).status,
        200,
        "until it is used"
    );
    let form = "password=quiet+grey+morning+tide&again=quiet+grey+morning+tide";
    let set = desk.post(path, form, &[]);
    assert_eq!(set.status, 303, "{}", set.text);
    assert_eq!(
        desk.get("/desk", &[("cookie", &before)]).status,
        303,
        "signed out"
    );
    assert_eq!(desk.get("/desk", &[("cookie", &set.cookie())]).status, 200);
    assert_eq!(desk.get(path, &[]).status, 404, "used up");
    let old = accounts::sign_in(&study.workspace, "Ada", PASSWORD, here(), Now::read()).unwrap();
    assert_eq!(old, SignIn::Wrong);
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}

#[test]
fn an_address_for_a_password_is_good_for_a_day_and_void_once_there_is_a_newer_one() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let name = AccountName::new("Ada").unwrap();
    let then = Now::at_ms(1_749_000_000_000);
    let first = accounts::offer_password_link(&study.workspace, &name, None, then).unwrap();
    let opens = |secret: &str, minutes: i64| {
        let now = Now::at_ms(then.ms() + minutes * MINUTE_MS);
        accounts::link_opens(&study.workspace, secret, now).unwrap()
    };
    assert_eq!(
        opens(&first, 1439),
        Some(OneTimeLink::Password(name.clone()))
    );
    assert_eq!(opens(&first, 1441), None);
    let second = accounts::offer_password_link(&study.workspace, &name, None, then).unwrap();
    assert_eq!(opens(&first, 1), None);
    assert!(opens(&second, 1).is_some());
}

#[test]
fn a_session_ends_after_an_idle_hour_and_after_twelve_in_any_case() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let then = Now::at_ms(1_749_000_000_000);
    let at = |minutes: i64| Now::at_ms(then.ms() + minutes * MINUTE_MS);
    let in_at = |secret: &str, minutes: i64| {
        accounts::whose_session(&study.workspace, secret, at(minutes))
            .unwrap()
            .is_some()
    };
    let idle = session(&study, "Ada", then);
    assert!(in_at(&idle, 59));
    assert!(in_at(&idle, 59 + 59), "a page was opened in between");
    assert!(!in_at(&idle, 59 + 59 + 61));
    let busy = session(&study, "Ada", then);
    for minutes in (30..720).step_by(30) {
        assert!(in_at(&busy, minutes), "{minutes}");
    }
    assert!(!in_at(&busy, 721));
}

#[test]
fn signing_out_ends_one_session_and_signing_out_everywhere_all_of_them() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookies = [
        desk.sign_in("Ada"),
        desk.sign_in("Ada"),
        desk.sign_in("Ada"),
    ];
    let status = |cookie: &str| desk.get("/desk", &[("cookie", cookie)]).status;
    assert_eq!(
        desk.post("/desk/sign-out", "", &[("cookie", &cookies[0])])
            .status,
        303
    );
    assert_eq!(cookies.each_ref().map(|c| status(c)), [303, 200, 200]);
    let out = desk.post("/desk/account/sign-out", "", &[("cookie", &cookies[1])]);
    assert_eq!(out.status, 303);
    assert!(out.header("set-cookie").contains("Max-Age=0"));
    assert_eq!(cookies.each_ref().map(|c| status(c)), [303, 303, 303]);
    assert_eq!(
        count(&study, "signed out everywhere"),
        2,
        "the reset of the test, and this one"
    );
}

#[test]
fn another_password_keeps_this_browser_and_ends_the_others() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let (mine, other) = (desk.sign_in("Ada"), desk.sign_in("Ada"));
    let new = "password=quiet+grey+morning+tide&again=quiet+grey+morning+tide";
    let wrong = desk.post(
        "/desk/account",
        &format!("old=guess&{new}"),
        &[("cookie", &mine)],
    );
    assert_eq!(wrong.status, 422);
    assert_eq!(desk.get("/desk", &[("cookie", &other)]).status, 200);
    let form = format!("old={}&{new}", PASSWORD.replace(' ', "+"));
    assert_eq!(
        desk.post("/desk/account", &form, &[("cookie", &mine)])
            .status,
        200
    );
    assert_eq!(desk.get("/desk", &[("cookie", &mine)]).status, 200);
    assert_eq!(desk.get("/desk", &[("cookie", &other)]).status, 303);
    let found = accounts::sign_in(
        &study.workspace,
        "Ada",
        "quiet grey morning tide",
        here(),
        Now::read(),
    );
    assert!(matches!(found.unwrap(), SignIn::In(_)));
}

#[test]
fn a_role_and_a_removal_count_from_the_next_page_on() {
    let study = Study::with().imported();
    let own_code = account(&study, "Ada", "researcher", &[]);
    let code = account(&study, "Pia", "preparer", &[]);
    let desk = Desk::of(&study);
    let (ada, pia) = (desk.sign_in("Ada"), desk.sign_in("Pia"));
    assert_eq!(
        desk.get("/desk/recordings", &[("cookie", &pia)]).status,
        200
    );
    let path = format!("/desk/people/{code}");
    let clinician = desk.post(&path, "role=clinician&child=C02", &[("cookie", &ada)]);
    assert_eq!(clinician.status, 303, "{}", clinician.text);
    assert_eq!(
        desk.get("/desk/recordings", &[("cookie", &pia)]).status,
        403
    );
    assert_eq!(
        desk.get("/desk/children/C02", &[("cookie", &pia)]).status,
        200
    );
    let nobody = desk.post(&path, "role=clinician", &[("cookie", &ada)]);
    assert_eq!(nobody.status, 422, "a clinician without children");
    let removed = desk.post(&format!("{path}/remove"), "", &[("cookie", &ada)]);
    assert_eq!(removed.status, 303);
    assert_eq!(
        desk.get("/desk", &[("cookie", &pia)]).status,
        303,
        "she is out"
    );
    let told = study.events().pop().unwrap();
    assert_eq!(told.kind, "account removed");
    let by = serde_json::json!({ "account": code, "by": own_code });
    assert_eq!(told.body.as_str(), by.to_string(), "who did it");
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}

#[test]
fn the_last_researcher_can_neither_go_nor_become_less() {
    let study = Study::with().imported();
    let code = account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let ada = desk.sign_in("Ada");
    let path = format!("/desk/people/{code}");
    for (path, form) in [(format!("{path}/remove"), ""), (path, "role=preparer")] {
        let refused = desk.post(&path, form, &[("cookie", &ada)]);
        assert_eq!(refused.status, 422);
        assert!(refused.text.contains("last account"), "{}", refused.text);
    }
    assert_eq!(desk.get("/desk/people", &[("cookie", &ada)]).status, 200);
}

#[test]
fn the_commands_add_list_change_and_remove_accounts() {
    let study = Study::with().imported();
    let folder = study.folder();
    let account = |arguments: &[&str]| {
        let common = ["--workspace", folder.to_str().unwrap(), "--json"];
        run(&[&["account"], arguments, &common].concat(), "")
    };
    let added = account(&["add", "Clara", "--role", "clinician", "--child", "C01"]).json();
    assert!(
        added["url"]
            .as_str()
            .unwrap()
            .starts_with("http://127.0.0.1:8484/desk/password/")
    );
    let again = account(&["add", "clara", "--role", "preparer"]);
    assert!(again.refusal().contains("already"), "{}", again.err);
    let unknown = account(&["add", "Cora", "--role", "clinician", "--child", "C77"]);
    assert!(
        unknown.refusal().contains("no child C77"),
        "{}",
        unknown.err
    );
    let list = account(&["list"]).json();
    assert_eq!(list["accounts"].as_array().unwrap().len(), 1);
    assert_eq!(list["accounts"][0]["children"], serde_json::json!(["C01"]));
    assert_eq!(
        account(&["role", "Clara", "--role", "preparer"]).json()["role"],
        "preparer"
    );
    assert_eq!(account(&["remove", "Clara"]).status, 0);
    assert!(
        account(&["reset", "Clara"])
            .refusal()
            .contains("no account")
    );
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}

#[test]
fn the_log_tells_of_accounts_without_a_name_a_password_or_a_child() {
    let study = Study::with().imported();
    account(&study, "Adamant", "researcher", &[]);
    account(&study, "Clarabel", "clinician", &["C02"]);
    session(&study, "Adamant", Now::read());
    let wrong = accounts::sign_in(&study.workspace, "Clarabel", "guess", here(), Now::read());
    assert_eq!(wrong.unwrap(), SignIn::Wrong);
    let nobody = accounts::sign_in(
        &study.workspace,
        "Nobody here",
        "guess",
        here(),
        Now::read(),
    );
    assert_eq!(nobody.unwrap(), SignIn::Wrong);
    let mut log = String::new();
    for event in study.events() {
        log.push_str(&format!("{} {}\n", event.kind, event.body));
    }
    for kind in [
        "account made",
        "account child given",
        "signed in",
        "sign-in failed",
    ] {
        assert!(log.contains(kind), "{kind}");
    }
    // In capitals as it is written: small letters and digits like these stand in digests by chance.
    assert!(!log.contains("C02"), "{log}");
    for secret in [
        "Adamant",
        "Clarabel",
        "Nobody",
        "harbour",
        "guess",
        "argon2",
        "127.0.0.1",
    ] {
        assert!(
            !log.to_lowercase().contains(&secret.to_lowercase()),
            "{secret}: {log}"
        );
    }
}

#[test]
fn the_audit_page_shows_what_was_asked_for_and_no_child() {
    let study = Study::with().sealed();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    desk.post("/desk/sign-in", "name=Clara&password=guess", &[]);
    let all = desk.get("/desk/audit", &[("cookie", &cookie)]);
    assert_eq!(all.status, 200);
    for told in [
        "round sealed",
        "import",
        "sign-in failed",
        "account child given",
        "Clara",
    ] {
        assert!(all.text.contains(told), "{told}");
    }
    assert!(!all.text.contains("C02") && !all.text.contains("C01"));
    let failed = desk.get("/desk/audit?kind=sign-in%20failed", &[("cookie", &cookie)]);
    assert!(
        failed.text.contains("<td>sign-in failed</td>") && !failed.text.contains("<td>import</td>")
    );
    let elsewhen = desk.get("/desk/audit?day=2001-01-01", &[("cookie", &cookie)]);
    assert!(elsewhen.text.contains("No event is as you asked."));
    let wrong = desk.get("/desk/audit?day=yesterday", &[("cookie", &cookie)]);
    assert!(wrong.text.contains("this is no day"));
}
