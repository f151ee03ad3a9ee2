//! The staff's pages: what is told before a round is unlocked, and what after.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::Judgement;
use fairhearing::study::RoundName;

use crate::support::Desk;
use crate::support::Labels;
use crate::support::Study;
use crate::support::account;
use crate::support::elements;
use crate::support::listen;

#[test]
fn before_unlocking_a_round_s_page_tells_progress_and_no_child() {
    let study = Study::with().labels(Labels::markers()).sealed();
    listen(&study.workspace, &study.links()[0], |_| Judgement::Correct);
    account(&study, "Ada", "researcher", &[]);
    let server = Desk::of(&study);
    let cookie = server.sign_in("Ada");
    let shown = server.get("/desk/rounds/spring", &[("cookie", &cookie)]);
    assert_eq!(shown.status, 200);
    let page = shown.text;
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
            .status,
        404
    );
    assert_eq!(
        server
            .get("/desk/rounds/autumn", &[("cookie", &cookie)])
            .status,
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
    account(&study, "Ada", "researcher", &[]);
    let server = Desk::of(&study);
    let cookie = server.sign_in("Ada");
    let shown = server.get("/desk/rounds/spring/results", &[("cookie", &cookie)]);
    assert_eq!(shown.status, 200);
    let unlocked = app::unlocked(&study.workspace, &name).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    let sections = fairhearing::report::sections(&found.round).unwrap();
    assert!(shown.text.contains(&sections));
    assert!(shown.text.contains("aria-current"));
    let alone = server.get("/desk/rounds/spring/report", &[("cookie", &cookie)]);
    let page = fairhearing::report::page(&found.round).unwrap();
    assert_eq!(alone.text, page);
    assert!(page.contains(&sections));
}

#[test]
fn the_desk_tells_what_was_recorded_and_which_rounds_there_are() {
    let study = Study::with().peers(1).sealed();
    account(&study, "Ada", "researcher", &[]);
    let server = Desk::of(&study);
    let cookie = server.sign_in("Ada");
    // Two children with two sessions of three words, and a peer with as many.
    for (page, told) in [
        (
            "/desk",
            &["Harbour study", "C01", "C02", "C03", "peer"] as &[&str],
        ),
        ("/desk/recordings", &["12 scored, 6 peer, 2 check"]),
        ("/desk/rounds", &["spring", "hidden"]),
    ] {
        let shown = server.get(page, &[("cookie", &cookie)]);
        assert_eq!(shown.status, 200);
        let text: Vec<String> = elements(&shown.text).into_iter().map(|e| e.text).collect();
        for told in told {
            assert!(text.iter().any(|t| t.starts_with(told)), "{told}: {text:?}");
        }
    }
}

#[test]
fn every_page_tells_where_one_is_what_is_next_and_what_would_go_wrong() {
    let study = Study::with().sealed();
    let code = account(&study, "Ada", "researcher", &[]);
    let server = Desk::of(&study);
    let cookie = server.sign_in("Ada");
    for route in fairhearing::web::desk_table() {
        let path = route
            .path
            .replace("{round}", "spring")
            .replace("{child}", "C01");
        let path = path.replace("{code}", &code);
        let is_page = route.method == "GET" && !path.contains('{');
        if !is_page
            || [
                "/desk/reach/seen",
                "/desk/rounds/spring/results",
                "/desk/rounds/spring/report",
                "/desk/rounds/spring/graphs",
                "/desk/rounds/spring/live",
                "/desk/rounds/spring/words",
                // Nothing was drawn in this study.
                "/desk/draw/sheet",
                "/desk/draw/assignment.json",
                // Without a form filled in before, it leads back there.
                "/desk/rounds/new/plan",
            ]
            .contains(&path.as_str())
        {
            continue;
        }
        let shown = server.get(&path, &[("cookie", &cookie)]);
        assert_eq!(shown.status, 200, "{path}");
        let guide = shown.text.split("<dl class=\"guide\">").nth(1);
        let guide = guide.and_then(|from| from.split("</dl>").next());
        let told = guide.unwrap_or_default().split("<dd>").skip(1);
        let told: Vec<_> = told
            .map(|from| from.split("</dd>").next().unwrap())
            .collect();
        assert!(
            told.len() == 2 && told.iter().all(|told| told.len() > 20),
            "{path}: {told:?}"
        );
        assert_eq!(shown.text.matches("<h1>").count(), 1, "{path}");
        let inside = route.who.is_some() && path != "/desk/account";
        let here = shown.text.matches("aria-current").count();
        assert_eq!(here, usize::from(inside), "{path}");
    }
}
