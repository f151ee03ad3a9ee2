//! Ways to the server: this machine, a proxy, HTTPS; who reaches the desk on which, with which cookie.

use fairhearing::web::Reached;

use crate::support::Desk;
use crate::support::PASSWORD;
use crate::support::Study;
use crate::support::account;

const PROXIED: [(&str, &str); 3] = [
    ("host", "rating.example"),
    ("x-forwarded-for", "203.0.113.9"),
    ("x-forwarded-proto", "https"),
];

fn behind_a_proxy(desk_from_outside: bool) -> Reached {
    Reached {
        public_url: Some("https://rating.example".to_owned()),
        trusted_proxies: vec!["127.0.0.1".parse().unwrap()],
        desk_from_outside,
        ..Reached::default()
    }
}

#[test]
fn the_bare_address_leads_staff_at_this_machine_to_the_desk_and_nobody_else_anywhere() {
    let study = Study::with().made();
    let desk = Desk::reached(&study, behind_a_proxy(true), None);
    assert_eq!(desk.get("/", &[]).header("location"), "/desk");
    let elsewhere = desk.get("/", &PROXIED);
    assert_eq!((elsewhere.status, elsewhere.header("location")), (404, ""));
}

#[test]
fn the_desk_is_for_this_machine_alone_unless_the_options_and_the_way_allow_more() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let door = |reached: Reached, headers: &[(&str, &str)]| {
        Desk::reached(&study, reached, None)
            .get("/desk/sign-in", headers)
            .status
    };
    let clear = PROXIED.map(|(name, value)| (name, if value == "https" { "http" } else { value }));
    assert_eq!(door(Reached::default(), &[]), 200, "this machine");
    assert_eq!(
        door(Reached::default(), &[("host", "clinic.example")]),
        404,
        "by another name"
    );
    assert_eq!(
        door(Reached::default(), &PROXIED),
        404,
        "a proxy that nobody trusts"
    );
    assert_eq!(
        door(behind_a_proxy(false), &PROXIED),
        404,
        "the options do not allow it"
    );
    assert_eq!(door(behind_a_proxy(true), &PROXIED), 200);
    assert_eq!(door(behind_a_proxy(true), &clear), 404, "in the clear");
    assert_eq!(
        door(behind_a_proxy(true), &[]),
        200,
        "this machine, past the proxy"
    );
}

#[test]
fn behind_a_proxy_the_cookie_is_safe_and_the_forms_work() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::reached(&study, behind_a_proxy(true), None);
    let form = format!("name=Ada&password={}", PASSWORD.replace(' ', "+"));
    // Some proxies ask for the server under a name of their own: the browser's origin is then the public one.
    for host in ["rating.example", "127.0.0.1:8484"] {
        let mut headers = PROXIED.to_vec();
        headers[0] = ("host", host);
        headers.push(("origin", "https://rating.example"));
        let answer = desk.post("/desk/sign-in", &form, &headers);
        assert_eq!(answer.status, 303, "{host}: {}", answer.text);
        let set = answer.header("set-cookie").to_owned();
        assert!(
            set.starts_with("__Host-desk=") && set.contains("Secure") && set.contains("Path=/;"),
            "{set}"
        );
        let cookie = answer.cookie();
        headers.push(("cookie", &cookie));
        assert_eq!(desk.get("/desk", &headers).status, 200);
    }
    let evil = [&PROXIED[..], &[("origin", "https://evil.example")]].concat();
    assert_eq!(desk.post("/desk/sign-in", &form, &evil).status, 403);
}

#[test]
fn on_this_machine_the_cookie_needs_no_tls_and_stays_with_the_desk() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let form = format!("name=Ada&password={}", PASSWORD.replace(' ', "+"));
    let answer = desk.post("/desk/sign-in", &form, &[]);
    let set = answer.header("set-cookie");
    assert!(set.starts_with("desk=") && !set.contains("Secure"), "{set}");
    assert!(
        set.contains("Path=/desk") && !set.contains("Max-Age"),
        "{set}"
    );
}

#[test]
fn a_listener_s_link_works_on_every_way() {
    let study = Study::with().listeners(3).sealed();
    let in_house = [("host", "192.168.1.5:8484")];
    let ways = [
        (Reached::default(), [].as_slice(), "listener="),
        (Reached::default(), in_house.as_slice(), "listener="),
        (
            behind_a_proxy(false),
            PROXIED.as_slice(),
            "__Host-listener=",
        ),
    ];
    for ((reached, headers, cookie), link) in ways.into_iter().zip(study.links()) {
        let desk = Desk::reached(&study, reached, None);
        let opened = desk.get(&link.path, headers);
        assert_eq!(opened.status, 303);
        assert!(
            opened.header("set-cookie").starts_with(cookie),
            "{}",
            opened.header("set-cookie")
        );
        let cookie = opened.cookie();
        let known = [headers, &[("cookie", cookie.as_str())]].concat();
        assert_eq!(desk.get("/listen", &known).status, 200);
    }
}

#[test]
fn a_phone_that_opens_the_test_shows_on_the_desk() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::reached(&study, behind_a_proxy(false), None);
    let cookie = desk.sign_in("Ada");
    let page = desk.get("/desk/reach", &[("cookie", &cookie)]);
    assert!(page.text.contains("Not reached yet."), "{}", page.text);
    let at = page
        .text
        .find("https://rating.example/reach/")
        .expect("the test's address");
    let path: String = page.text[at + "https://rating.example".len()..]
        .chars()
        .take_while(|c| c.is_ascii_alphanumeric() || *c == '/')
        .collect();
    assert_eq!(desk.get("/reach/guess", &PROXIED).status, 404);
    let seen = |desk: &Desk| desk.get("/desk/reach/seen", &[("cookie", &cookie)]).text;
    assert_eq!(seen(&desk), "{\"said\":null}");
    assert_eq!(desk.get(&path, &[]).status, 200);
    assert!(seen(&desk).contains("by this machine itself"));
    let phone = desk.get(&path, &PROXIED);
    assert_eq!(phone.status, 200);
    assert!(!phone.text.contains("not encrypted"));
    assert!(
        seen(&desk).contains("over an encrypted way"),
        "{}",
        seen(&desk)
    );
    let after = desk.get("/desk/reach", &[("cookie", &cookie)]).text;
    assert!(after.contains("A device came through."));
}

#[test]
fn a_server_that_only_this_machine_reaches_says_so_and_one_in_the_clear_warns() {
    let study = Study::with().made();
    account(&study, "Ada", "researcher", &[]);
    let alone = Desk::of(&study);
    let page = alone
        .get("/desk/reach", &[("cookie", &alone.sign_in("Ada"))])
        .text;
    assert!(page.contains("Only this machine reaches") && !page.contains("<svg class=\"qr\""));
    assert!(page.contains("sleeps"));
    let clear = Reached {
        public_url: Some("http://rating.example".to_owned()),
        ..Reached::default()
    };
    let clear = Desk::reached(&study, clear, None);
    let page = clear
        .get("/desk/reach", &[("cookie", &clear.sign_in("Ada"))])
        .text;
    assert!(page.contains("In the clear.") && page.contains("<svg class=\"qr\""));
}
