//! Graphs to keep: downloaded by whoever may read of the child, told by the log, and in every report.

use fairhearing::app;
use fairhearing::folder;

use crate::clinic_child::closed;
use crate::clinic_child::unlocked;
use crate::support::Desk;
use crate::support::account;

/// How the files of graphs end, what they are, and how they begin: pictures where those are built in.
const KIND: (&str, &str, &[u8]) = if cfg!(feature = "png") {
    ("png", "image/png", b"\x89PNG")
} else {
    ("svg", "image/svg+xml", b"<svg")
};

fn named(name: &str) -> String {
    format!("{name}.{}", KIND.0)
}

fn as_file(name: &str) -> String {
    format!("attachment; filename=\"{}\"", named(name))
}

#[test]
fn graphs_are_downloaded_by_who_may_read_of_the_child_and_the_log_tells_it() {
    let study = unlocked();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let [ada, clara] = ["Ada", "Clara"].map(|name| desk.sign_in(name));
    let fetch = |cookie: &str, path: &str, form: &str| desk.post(path, form, &[("cookie", cookie)]);
    let own = fetch(&clara, "/desk/children/C02/outcome", "");
    assert_eq!((own.status, own.header("content-type")), (200, KIND.1));
    assert_eq!(own.header("content-disposition"), as_file("graph-C02"));
    assert!(own.bytes.starts_with(KIND.2));
    assert_eq!(
        fetch(&clara, "/desk/children/C02/outcome", "").bytes,
        own.bytes
    );
    assert_eq!(fetch(&clara, "/desk/children/C01/outcome", "").status, 404);
    assert_eq!(fetch(&clara, "/desk/outcome", "").status, 403);
    assert_eq!(fetch(&ada, "/desk/outcome", "").status, 200);
    let page = desk
        .get("/desk/rounds/spring/graphs", &[("cookie", &ada)])
        .text;
    assert!(page.contains("value=\"graph-1-C01\""));
    let one = fetch(&ada, "/desk/rounds/spring/graphs", "graph=graph-1-C01");
    assert_eq!(one.header("content-disposition"), as_file("graph-1-C01"));
    assert_eq!(
        fetch(&ada, "/desk/rounds/spring/graphs", "graph=graph-9-C09").status,
        404
    );
    let events = study.events();
    let copies = events.iter().filter(|event| event.kind == "copy made");
    assert_eq!(copies.count(), 4);
    // What is noted of a copy outlives the child: it does not name her.
    let copies = app::copies_made(&study.workspace).unwrap();
    assert!(copies.iter().all(|copy| !copy.place.contains("C0")));
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[test]
fn there_is_no_picture_before_unlocking() {
    let study = closed();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    for path in [
        "/desk/children/C01/outcome",
        "/desk/outcome",
        "/desk/rounds/spring/graphs",
    ] {
        let answer = desk.post(path, "graph=graph-all-children", &[("cookie", &cookie)]);
        assert_eq!(answer.status, 404, "{path}");
    }
}

#[test]
fn a_report_holds_its_graphs_as_pictures() {
    let study = unlocked();
    let unlocked = app::unlocked(&study.workspace, &"spring".parse().unwrap()).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    let files = folder::report(&found).unwrap();
    let drawn: Vec<_> = files
        .iter()
        .filter(|(name, _)| name.starts_with("graph-"))
        .collect();
    let names: Vec<_> = drawn.iter().map(|(name, _)| name.clone()).collect();
    let wanted = ["graph-all-children", "graph-1-C01", "graph-2-C02"];
    assert_eq!(names, wanted.map(named));
    // Small enough to lie in every report.
    assert!(drawn.iter().all(|(_, bytes)| bytes.len() < 400_000));
}
