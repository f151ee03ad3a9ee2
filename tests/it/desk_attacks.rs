//! Attacks on the desk: each is refused and told to the log, and nothing is lost.

use std::net::IpAddr;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::accounts;
use fairhearing::app::accounts::SignIn;

use crate::support::Desk;
use crate::support::PASSWORD;
use crate::support::Study;
use crate::support::account;

const THEN: i64 = 1_749_000_000_000;

fn count(study: &Study, kind: &str) -> usize {
    study
        .events()
        .iter()
        .filter(|event| event.kind == kind)
        .count()
}

fn try_from(study: &Study, name: &str, password: &str, from: [u8; 4], minutes: i64) -> SignIn {
    let now = Now::at_ms(THEN + minutes * 60_000);
    accounts::sign_in(&study.workspace, name, password, IpAddr::from(from), now).unwrap()
}

#[test]
fn whoever_guesses_a_password_is_held_off_and_the_person_elsewhere_is_not() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let (far, near) = ([203, 0, 113, 9], [192, 0, 2, 7]);
    for _ in 0..5 {
        assert_eq!(
            try_from(&study, "Ada", "a guess that is wrong", far, 0),
            SignIn::Wrong
        );
    }
    for name in ["Ada", "ADA", " ada "] {
        assert_eq!(
            try_from(&study, name, PASSWORD, far, 1),
            SignIn::HeldOff,
            "{name}: even the right one"
        );
    }
    assert!(matches!(
        try_from(&study, "Ada", PASSWORD, near, 1),
        SignIn::In(_)
    ));
    assert!(matches!(
        try_from(&study, "Ada", PASSWORD, far, 17),
        SignIn::In(_)
    ));
    assert_eq!(count(&study, "sign-in failed"), 5);
    assert_eq!(count(&study, "sign-ins held off"), 1, "told once");
}

#[test]
fn one_address_is_held_off_for_all_names_and_many_addresses_for_one() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    for number in 0..20 {
        let name = format!("name {number}");
        assert_eq!(
            try_from(&study, &name, "guess", [203, 0, 113, 9], 0),
            SignIn::Wrong
        );
    }
    assert_eq!(
        try_from(&study, "Ada", PASSWORD, [203, 0, 113, 9], 0),
        SignIn::HeldOff
    );
    for number in 0..50 {
        assert_eq!(
            try_from(&study, "Ada", "guess", [198, 51, 100, number], 0),
            SignIn::Wrong
        );
    }
    assert_eq!(
        try_from(&study, "Ada", PASSWORD, [192, 0, 2, 7], 0),
        SignIn::HeldOff
    );
}

#[test]
fn an_unknown_name_and_a_wrong_password_get_the_same_answer() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let answer = |name: &str| {
        let answer = desk.post("/desk/sign-in", &format!("name={name}&password=guess"), &[]);
        (answer.status, answer.text.replace(name, "NAME"))
    };
    assert_eq!(answer("Ada"), answer("Bob"));
}

#[test]
fn guessed_addresses_and_cookies_open_nothing_and_are_told_to_the_log() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    for path in [
        "/desk/first/guess",
        "/desk/password/guess",
        "/desk/demonstration/guess",
    ] {
        assert_eq!(desk.get(path, &[]).status, 404, "{path}");
    }
    for _ in 0..10 {
        assert_eq!(
            desk.post("/desk/password/guess", "password=x", &[]).status,
            404
        );
    }
    assert_eq!(
        count(&study, "account link refused"),
        5,
        "so many, however often it is tried"
    );
    for cookie in ["desk=guess", "desk=", "__Host-desk=guess"] {
        assert_eq!(
            desk.get("/desk", &[("cookie", cookie)]).status,
            303,
            "{cookie}"
        );
    }
}

#[test]
fn a_session_that_somebody_planted_is_not_the_one_that_signs_in() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let form = format!("name=Ada&password={}", PASSWORD.replace(' ', "+"));
    let planted = desk.sign_in("Ada");
    for cookie in ["desk=planted", &planted] {
        let answer = desk.post("/desk/sign-in", &form, &[("cookie", cookie)]);
        assert_eq!(answer.status, 303);
        assert_ne!(answer.cookie(), cookie);
    }
    assert_eq!(desk.get("/desk", &[("cookie", "desk=planted")]).status, 303);
}

#[test]
fn a_form_of_another_site_is_refused_and_changes_nothing() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let form = "name=Eve&role=researcher";
    for header in [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("origin", "https://evil.example"),
        ("origin", "null"),
    ] {
        let refused = desk.post("/desk/people", form, &[("cookie", &cookie), header]);
        assert_eq!(refused.status, 403, "{header:?}");
    }
    assert_eq!(accounts::accounts(&study.workspace).unwrap().len(), 1);
    assert_eq!(count(&study, "other site refused"), 4);
    let own = [
        ("cookie", cookie.as_str()),
        ("sec-fetch-site", "same-origin"),
    ];
    assert_eq!(desk.post("/desk/people", form, &own).status, 200);
}

#[test]
fn another_clinician_s_child_is_not_there_and_the_try_is_told_to_the_log() {
    let study = Study::with().sealed();
    account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Clara");
    let get = |path: &str| desk.get(path, &[("cookie", &cookie)]);
    assert_eq!(get("/desk/children/C02").status, 200);
    let (other, nobody) = (get("/desk/children/C01"), get("/desk/children/C99"));
    assert_eq!((other.status, nobody.status), (404, 404));
    assert_eq!(
        other.text, nobody.text,
        "the answers tell not even which children there are"
    );
    assert!(!get("/desk").text.contains("C01"));
    let refused: Vec<_> = study
        .events()
        .into_iter()
        .filter(|event| event.kind == "access refused")
        .collect();
    assert_eq!(refused.len(), 2);
    assert!(refused[0].body.as_str().contains("/desk/children/{child}"));
    assert!(!refused[0].body.as_str().contains("C01"));
}

#[test]
fn a_body_that_is_too_large_is_refused_and_the_server_goes_on() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let large = format!("name={}&role=preparer", "x".repeat(200_000));
    let refused = desk.post("/desk/people", &large, &[("cookie", &cookie)]);
    assert_eq!(refused.status, 413);
    let long = format!("name=Ada&password={}", "x".repeat(60_000));
    assert_eq!(desk.post("/desk/sign-in", &long, &[]).status, 422);
    assert_eq!(desk.get("/desk", &[("cookie", &cookie)]).status, 200);
    assert_eq!(accounts::accounts(&study.workspace).unwrap().len(), 1);
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );
}

#[test]
fn names_are_shown_as_text_and_never_as_markup() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "<script>alert(1)</script>", "preparer", &[]);
    let desk = Desk::of(&study);
    let page = desk.get("/desk/people", &[("cookie", &desk.sign_in("Ada"))]);
    assert!(!page.text.contains("<script>alert"), "{}", page.text);
}
