//! Who may use which page of the desk: one table, tried on every route with every role.

use std::collections::BTreeSet;

use fairhearing::app::Now;
use fairhearing::app::accounts;
use fairhearing::app::accounts::Rights;
use fairhearing::study::AccountName;
use fairhearing::study::ChildCode;
use fairhearing::web;

use crate::support::Desk;
use crate::support::Study;

/// Every route with the roles that may use it: R researcher, P preparer, C clinician; `-` for what comes before
/// signing in. Written by hand: a route that is not here makes the test fail.
const TABLE: &[(&str, &str, &str)] = &[
    ("GET", "/desk/sign-in", "-"),
    ("POST", "/desk/sign-in", "-"),
    ("GET", "/desk/first/{secret}", "-"),
    ("POST", "/desk/first/{secret}", "-"),
    ("GET", "/desk/password/{secret}", "-"),
    ("POST", "/desk/password/{secret}", "-"),
    ("POST", "/desk/sign-out", "RPC"),
    ("GET", "/desk/account", "RPC"),
    ("POST", "/desk/account", "RPC"),
    ("POST", "/desk/account/sign-out", "RPC"),
    ("GET", "/desk", "RPC"),
    ("GET", "/desk/children/{child}", "RPC"),
    ("GET", "/desk/children/{child}/outcome", "RC"),
    ("POST", "/desk/children/{child}/outcome", "RC"),
    ("GET", "/desk/children/{child}/hear", "RC"),
    ("GET", "/desk/children/{child}/hear/{session}/{word}", "RC"),
    ("GET", "/desk/children/{child}/links", "RC"),
    ("POST", "/desk/children/{child}/links", "RC"),
    ("POST", "/desk/children/{child}/links/{number}/revoke", "RC"),
    ("GET", "/desk/caseload", "RC"),
    ("GET", "/desk/outcome", "R"),
    ("POST", "/desk/outcome", "R"),
    ("GET", "/desk/children/{child}/withdraw", "R"),
    ("POST", "/desk/children/{child}/withdraw", "R"),
    ("GET", "/desk/children/{child}/consent", "R"),
    ("POST", "/desk/children/{child}/consent", "R"),
    ("POST", "/desk/children/{child}/label", "R"),
    ("GET", "/desk/consents", "R"),
    ("POST", "/desk/consents", "R"),
    ("GET", "/desk/listeners/withdraw", "R"),
    ("POST", "/desk/listeners/withdraw", "R"),
    ("POST", "/desk/listeners/erase", "R"),
    ("GET", "/desk/left/{id}", "R"),
    ("GET", "/desk/left/{id}/family", "R"),
    ("GET", "/desk/recordings", "RP"),
    ("GET", "/desk/settings", "R"),
    ("POST", "/desk/settings", "R"),
    ("GET", "/desk/papers", "R"),
    ("GET", "/desk/papers/{paper}", "R"),
    ("GET", "/desk/draw", "R"),
    ("GET", "/desk/draw/sheet", "R"),
    ("GET", "/desk/draw/assignment.json", "R"),
    ("GET", "/desk/draw/design/{design}", "R"),
    ("POST", "/desk/draw/design/{design}", "R"),
    ("GET", "/desk/before", "RP"),
    ("GET", "/desk/before/sheet", "RP"),
    ("POST", "/desk/before/sheet", "RP"),
    ("GET", "/desk/before/sheet/{number}", "RP"),
    ("GET", "/desk/before/test", "RP"),
    ("POST", "/desk/before/test", "RP"),
    ("GET", "/desk/import", "RP"),
    ("POST", "/desk/import", "RP"),
    ("GET", "/desk/import/{id}", "RP"),
    ("POST", "/desk/import/{id}/discard", "RP"),
    ("GET", "/desk/import/{id}/held", "RP"),
    ("POST", "/desk/import/{id}/files", "RP"),
    ("PUT", "/desk/import/{id}/part", "RP"),
    ("POST", "/desk/import/{id}/manifest", "RP"),
    ("POST", "/desk/import/{id}/rows", "RP"),
    ("GET", "/desk/import/{id}/rows/{line}", "RP"),
    ("POST", "/desk/import/{id}/rows/{line}", "RP"),
    ("POST", "/desk/import/{id}/rows/{line}/without", "RP"),
    ("POST", "/desk/import/{id}/rows/{line}/remove", "RP"),
    ("POST", "/desk/import/{id}/rows/{line}/recording", "RP"),
    ("GET", "/desk/import/{id}/run", "RP"),
    ("POST", "/desk/import/{id}/run", "RP"),
    ("GET", "/desk/import/{id}/run/state", "RP"),
    ("GET", "/desk/recordings/review", "RP"),
    ("GET", "/desk/recordings/review/{name}", "RP"),
    ("GET", "/desk/recordings/review/{name}/recorded", "RP"),
    ("GET", "/desk/recordings/review/{name}/prepared", "RP"),
    ("POST", "/desk/recordings/review/{name}/unmask", "RP"),
    ("POST", "/desk/recordings/review/{name}/exclude", "RP"),
    ("POST", "/desk/recordings/review/{name}/include", "RP"),
    ("GET", "/desk/recordings/answers", "RP"),
    ("POST", "/desk/recordings/answers", "RP"),
    ("POST", "/desk/recordings/answers/change", "RP"),
    ("POST", "/desk/recordings/answers/settle", "RP"),
    ("POST", "/desk/recordings/answers/single", "R"),
    ("GET", "/desk/recordings/phases", "RP"),
    ("GET", "/desk/rounds", "R"),
    ("GET", "/desk/rounds/{round}", "R"),
    ("GET", "/desk/rounds/{round}/results", "R"),
    ("GET", "/desk/rounds/{round}/report", "R"),
    ("GET", "/desk/rounds/{round}/live", "R"),
    ("POST", "/desk/rounds/{round}/reason", "R"),
    ("GET", "/desk/rounds/{round}/close", "R"),
    ("POST", "/desk/rounds/{round}/close", "R"),
    ("GET", "/desk/rounds/{round}/unlock", "R"),
    ("POST", "/desk/rounds/{round}/unlock", "R"),
    ("POST", "/desk/rounds/{round}/pause", "R"),
    ("POST", "/desk/rounds/{round}/resume", "R"),
    ("GET", "/desk/rounds/{round}/masked", "R"),
    ("POST", "/desk/rounds/{round}/masked", "R"),
    ("POST", "/desk/rounds/{round}/masked/begin", "R"),
    ("POST", "/desk/rounds/{round}/masked/finish", "R"),
    ("GET", "/desk/rounds/{round}/graphs", "R"),
    ("POST", "/desk/rounds/{round}/graphs", "R"),
    ("GET", "/desk/rounds/{round}/words", "R"),
    ("GET", "/desk/rounds/{round}/words/{token}/sound", "R"),
    ("GET", "/desk/rounds/{round}/exports", "R"),
    ("POST", "/desk/rounds/{round}/exports", "R"),
    ("GET", "/desk/rounds/new", "R"),
    ("POST", "/desk/rounds/new", "R"),
    ("POST", "/desk/rounds/new/forecast", "R"),
    ("GET", "/desk/rounds/new/plan", "R"),
    ("POST", "/desk/rounds/new/seal", "R"),
    ("GET", "/desk/rounds/{round}/seal", "R"),
    ("GET", "/desk/rounds/{round}/invitations", "R"),
    ("POST", "/desk/rounds/{round}/invitations", "R"),
    ("POST", "/desk/rounds/{round}/invitations/revoke", "R"),
    ("GET", "/desk/rounds/{round}/invitations/{batch}", "R"),
    (
        "GET",
        "/desk/rounds/{round}/invitations/{batch}/links.csv",
        "R",
    ),
    ("GET", "/desk/rounds/{round}/invitations/{batch}/slips", "R"),
    (
        "POST",
        "/desk/rounds/{round}/invitations/{batch}/forget",
        "R",
    ),
    ("GET", "/desk/people", "R"),
    ("POST", "/desk/people", "R"),
    ("GET", "/desk/people/{code}", "R"),
    ("POST", "/desk/people/{code}", "R"),
    ("POST", "/desk/people/{code}/link", "R"),
    ("POST", "/desk/people/{code}/sign-out", "R"),
    ("POST", "/desk/people/{code}/remove", "R"),
    ("GET", "/desk/backup", "R"),
    ("POST", "/desk/backup", "R"),
    ("POST", "/desk/backup/check", "R"),
    ("GET", "/desk/audit", "R"),
    ("GET", "/desk/reach", "R"),
    ("GET", "/desk/reach/seen", "R"),
];

/// An account without a password, which the test signs in past the form.
fn someone(study: &Study, name: &str, rights: Rights) -> (AccountName, String) {
    let name = AccountName::new(name).unwrap();
    let made = accounts::add_account(&study.workspace, &name, rights, None, Now::read()).unwrap();
    (name, made.code.to_string())
}

fn cookie(study: &Study, name: &AccountName) -> String {
    let secret = accounts::sign_in_without_password(&study.workspace, name, Now::read()).unwrap();
    format!("desk={secret}")
}

fn signs(who: Option<&'static [fairhearing::study::Role]>) -> String {
    let letter = |role: &fairhearing::study::Role| role.as_str()[..1].to_uppercase();
    who.map_or_else(|| "-".to_owned(), |who| who.iter().map(letter).collect())
}

#[test]
fn the_table_of_the_program_is_this_table() {
    let found: BTreeSet<_> = web::desk_table()
        .into_iter()
        .map(|route| {
            (
                route.method.to_string(),
                route.path.to_owned(),
                signs(route.who),
            )
        })
        .collect();
    let wanted: BTreeSet<_> = TABLE
        .iter()
        .map(|(method, path, who)| ((*method).to_owned(), (*path).to_owned(), (*who).to_owned()))
        .collect();
    assert_eq!(found, wanted);
}

#[test]
fn every_route_answers_the_roles_of_the_table_and_nobody_else() {
    let study = Study::with().sealed();
    let own = BTreeSet::from([ChildCode::new("C01").unwrap()]);
    let people = [
        ("R", someone(&study, "Rosa", Rights::Researcher)),
        ("P", someone(&study, "Pia", Rights::Preparer)),
        ("C", someone(&study, "Clara", Rights::Clinician(own))),
    ];
    let desk = Desk::of(&study);
    for (place, (method, path, who)) in TABLE.iter().enumerate() {
        // Each route works on an account of its own: some of them remove it.
        let (_, code) = someone(&study, &format!("Other {place}"), Rights::Preparer);
        let path = path
            .replace("{round}", "spring")
            .replace("{child}", "C01")
            .replace("{code}", &code)
            .replace("{line}", "2")
            .replace("{id}", "unknown")
            .replace("{name}", "unknown")
            .replace("{number}", "unknown")
            .replace("{session}", "0")
            .replace("{word}", "0")
            .replace("{batch}", "unknown")
            .replace("{secret}", "unknown");
        let ask = |headers: &[(&str, &str)]| match *method {
            "GET" => desk.get(&path, headers),
            "PUT" => desk.put(&path, headers),
            _ => desk.post(&path, "", headers),
        };
        if *who == "-" {
            assert_ne!(ask(&[]).status, 303, "{method} {path} needs no signing in");
            continue;
        }
        let stranger = ask(&[]);
        assert_eq!(
            (stranger.status, stranger.header("location")),
            (303, "/desk/sign-in"),
            "{method} {path}"
        );
        for (sign, (name, _)) in &people {
            let cookie = cookie(&study, name);
            let answer = ask(&[("cookie", &cookie)]);
            let may = who.contains(sign);
            assert_eq!(answer.status == 403, !may, "{method} {path} as {sign}");
            let sent_away = answer.header("location") == "/desk/sign-in";
            let leaves = path.ends_with("/sign-out") && !path.contains("people");
            assert!(leaves || !sent_away, "{method} {path} as {sign}");
        }
    }
}

#[test]
fn what_a_role_may_not_open_is_not_in_its_navigation() {
    let study = Study::with().sealed();
    let (name, _) = someone(&study, "Pia", Rights::Preparer);
    let desk = Desk::of(&study);
    let page = desk
        .get("/desk", &[("cookie", &cookie(&study, &name))])
        .text;
    assert!(page.contains("href=\"/desk/recordings\""));
    for hidden in ["/desk/rounds", "/desk/people", "/desk/audit", "/desk/reach"] {
        assert!(!page.contains(&format!("href=\"{hidden}\"")), "{hidden}");
    }
    let refused = desk.get("/desk/people", &[("cookie", &cookie(&study, &name))]);
    assert_eq!(refused.status, 403);
    assert!(
        refused.text.contains("href=\"/desk\""),
        "no way back: {}",
        refused.text
    );
}
