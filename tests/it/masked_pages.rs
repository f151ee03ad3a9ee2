//! The pages of a masked analysis: shown to the analyst alone, and telling her nothing but levels in their order.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::web::Reached;
use rusqlite::Connection;

use crate::masked::begin;
use crate::masked::closed;
use crate::masked::nothing_is_wrong_with;
use crate::program::run;
use crate::support::Desk;
use crate::support::Labels;
use crate::support::account;

#[test]
fn the_pages_ask_twice_show_the_graphs_to_the_analyst_alone_and_keep_what_she_marks() {
    let (study, ada) = closed(Labels::plain());
    account(&study, "Bea", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    let page = "/desk/rounds/spring/masked";
    let before = desk.get(page, &signed_in).text;
    assert!(before.contains("neither recorded nor treated these children"));
    assert!(!before.contains("<svg class=\"chart\""));
    let first = "/desk/rounds/spring/masked/begin";
    for unmeant in ["", "sure=yes", "blind=yes"] {
        assert_eq!(
            desk.post(first, unmeant, &signed_in).status,
            422,
            "{unmeant}"
        );
    }
    let begun = desk.post(first, "sure=yes&blind=yes", &signed_in);
    assert_eq!((begun.status, begun.header("location")), (303, page));
    let shown = desk.get(page, &signed_in).text;
    assert_eq!(shown.matches("<svg class=\"chart\"").count(), 3);
    assert!(shown.contains("0 of 3 graphs marked"));

    let other = desk.sign_in("Bea");
    let others = [("cookie", other.as_str())];
    let hers = desk.get(page, &others).text;
    assert!(hers.contains("The graphs are shown to Ada alone"));
    assert!(!hers.contains("<svg class=\"chart\"") && !hers.contains("Point 1"));
    let refused = desk.post(page, "graph=1&before-1=none&sure-1=guess", &others);
    assert!(refused.status == 422 && refused.text.contains("somebody else"));

    let half = desk.post(
        page,
        "graph=1&before-1=4&graph=2&before-2=&sure-2=",
        &signed_in,
    );
    assert_eq!(half.status, 422);
    assert!(half.text.contains("Graph 1: say how sure you are."));
    assert!(
        half.text.contains("<option value=\"4\" selected>"),
        "what was entered stays"
    );
    let kept =
        "graph=1&before-1=4&sure-1=certain&graph=2&before-2=&graph=3&before-3=none&sure-3=guess";
    assert_eq!(desk.post(page, kept, &signed_in).status, 303);
    assert!(
        desk.get(page, &signed_in)
            .text
            .contains("2 of 3 graphs marked")
    );
    let finish = "/desk/rounds/spring/masked/finish";
    let early = desk.post(finish, "sure=yes", &signed_in);
    assert!(early.status == 422 && early.text.contains("1 of 3 graphs are not marked yet"));
    let warned = desk.get("/desk/rounds/spring/unlock", &signed_in).text;
    assert!(
        warned.contains("is not finished: 2 of 3 graphs are marked"),
        "{warned}"
    );
    desk.post(page, "graph=2&before-2=2&sure-2=probable", &signed_in);
    assert_eq!(desk.post(finish, "", &signed_in).status, 422);
    assert_eq!(desk.post(finish, "sure=yes", &signed_in).status, 303);
    let calm = desk.get("/desk/rounds/spring/unlock", &signed_in).text;
    assert!(!calm.contains("masked analysis of this round is not finished"));
    nothing_is_wrong_with(&study);
    desk.post("/desk/rounds/spring/unlock", "sure=yes", &signed_in);
    let over = desk.get(page, &signed_in).text;
    assert!(!over.contains("<svg class=\"chart\"") && over.contains("is unlocked"));
    let report = desk.get("/desk/rounds/spring/results", &signed_in).text;
    assert!(report.contains("Masked visual analysis") && report.contains(&ada));
    nothing_is_wrong_with(&study);
}

#[test]
fn no_label_of_any_kind_is_in_what_the_analyst_gets() {
    let labels = Labels::markers();
    let (study, ada) = closed(labels.clone());
    begin(&study, &ada).unwrap();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let page = desk
        .get("/desk/rounds/spring/masked", &[("cookie", &cookie)])
        .text;
    assert_eq!(page.matches("<svg class=\"chart\"").count(), 3);
    // The study's own name stands in the frame of every page of the desk.
    for label in labels.all().iter().filter(|label| **label != labels.study) {
        assert!(!page.contains(label.as_str()), "{label}");
    }
    let out = study.folder().join("graphs");
    let folder = study.folder().display().to_string();
    let round = ["--workspace", &folder, "--round", "spring"];
    let written = run(
        &[
            &["masked", "graphs", "--out", out.to_str().unwrap()][..],
            &round,
        ]
        .concat(),
        "",
    );
    assert_eq!(written.status, 0, "{}", written.err);
    for file in ["graph-1.svg", "graph-2.svg", "graph-3.svg", "marks.csv"] {
        let text = std::fs::read_to_string(out.join(file)).unwrap();
        for label in labels.all() {
            assert!(!text.contains(&label), "{file}: {label}");
        }
    }
}

/// The same answers under other codes, cohorts, dates, and with the two phases turned round: not a byte of the page differs.
#[test]
fn codes_cohorts_dates_and_phases_change_no_byte_of_the_page() {
    let (study, ada) = closed(Labels::plain());
    begin(&study, &ada).unwrap();
    let place = tempfile::tempdir().unwrap();
    let copy = place.path().join("copy");
    app::back_up(&study.workspace, &copy, Now::read()).unwrap();
    let [plain, other] = ["plain", "other"].map(|name| {
        let folder = place.path().join(name);
        app::restore(&copy, &folder).unwrap();
        folder
    });
    let file = Connection::open(other.join("fairhearing.db")).unwrap();
    let changed = file
        .execute(
            "UPDATE session SET date = '1999-01-01',
             phase = CASE phase WHEN 'baseline' THEN 'treatment' ELSE 'baseline' END",
            [],
        )
        .unwrap();
    assert_eq!(changed, 24, "four children, six sessions each");
    file.execute(
        "UPDATE child SET code = 'Z' || (9 - id), cohort = CASE peer WHEN 1 THEN NULL ELSE 'swapped' END",
        [],
    )
    .unwrap();
    drop(file);
    let [plain, other] = [plain, other].map(|folder| {
        let workspace = Workspace::open(&folder).unwrap();
        let desk = Desk::serving(&workspace, Reached::default(), None);
        let cookie = desk.sign_in("Ada");
        desk.get("/desk/rounds/spring/masked", &[("cookie", &cookie)])
            .text
    });
    assert_eq!(plain.matches("<svg class=\"chart\"").count(), 3);
    assert!(plain == other);
}
