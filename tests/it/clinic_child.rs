//! A child's page: for the right eyes only, only what is unlocked, the report's numbers, one printed page.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::report;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::RoundName;
use fantoccini::wd::PrintConfigurationBuilder;
use fantoccini::wd::PrintSize;

use crate::browser_access::AXE;
use crate::browser_access::RUN_AXE;
use crate::browser_access::TOO_SMALL;
use crate::browser_access::TOO_WIDE;
use crate::browser_desk::sign_in;
use crate::support::Browser;
use crate::support::Desk;
use crate::support::Study;
use crate::support::account;
use crate::support::findings;
use crate::support::heard_round;
use crate::support::listen;
use crate::support::record;

fn spring() -> RoundName {
    RoundName::new("spring").unwrap()
}

/// Two children and a peer with six sessions of four words, judged by three: the later a word is in its sitting, the
/// likelier it is heard as correct. Not closed yet.
pub(crate) fn open() -> Study {
    let study = Study::with()
        .peers(1)
        .sessions(6)
        .words(4)
        .listeners(3)
        .judgements(3)
        .tokens_per_sitting(100)
        .sealed();
    for link in study.links() {
        let mut turn = 0;
        listen(&study.workspace, link, |_| {
            turn += 1;
            if turn % 3 == 0 { Distorted } else { Correct }
        });
    }
    study
}

/// The same, closed, and not unlocked yet.
pub(crate) fn closed() -> Study {
    let study = open();
    app::close(&study.workspace, &spring(), Now::read()).unwrap();
    study
}

pub(crate) fn unlocked() -> Study {
    let study = closed();
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    study
}

#[test]
fn before_unlocking_the_page_shows_nothing_of_a_child() {
    let study = closed();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let page = desk.get("/desk/children/C01/outcome", &[("cookie", &cookie)]);
    assert_eq!(page.status, 200);
    assert!(
        page.text
            .contains("No round in which C01 was heard is unlocked yet")
    );
    for sign in ["<svg class=\"chart\"", "% heard as correct", "points"] {
        assert!(!page.text.contains(sign), "{sign}");
    }
}

#[test]
fn a_clinician_reads_of_her_own_children_and_of_nobody_else() {
    let study = unlocked();
    account(&study, "Clara", "clinician", &["C02"]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Clara");
    let read = |code: &str| {
        let path = format!("/desk/children/{code}/outcome");
        desk.get(&path, &[("cookie", &cookie)])
    };
    let own = read("C02");
    assert_eq!(own.status, 200);
    assert!(own.text.contains("heard as correct"));
    assert!(!own.text.contains("C01"));
    let (other, none, peer) = (read("C01"), read("C99"), read("C03"));
    for page in [&other, &none, &peer] {
        assert_eq!(page.status, 404);
    }
    assert_eq!(other.text, none.text);
}

#[test]
fn the_page_says_what_the_report_found() {
    let study = unlocked();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let page = desk.get("/desk/children/C01/outcome", &[("cookie", &cookie)]);
    let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap().round;
    let sheet = report::clinic::child_sheet(&found, "C01").unwrap();
    assert!(page.text.contains(&sheet.chart));
    let escaped = sheet.sentence.replace('\'', "&#39;");
    assert!(page.text.contains(&escaped), "{escaped}");
    let report = report::page(&found).unwrap();
    for session in found.outcome.sessions.iter().filter(|s| s.child == "C01") {
        let share = report::number::percent_1(session.proportion_correct);
        assert!(
            page.text.contains(&share) && report.contains(&share),
            "{share}"
        );
    }
}

#[test]
fn each_child_of_a_round_has_the_lines_that_hold_of_it() {
    let found = heard_round();
    let lines = |child: &str| {
        let sheet = report::clinic::child_sheet(&found, child).unwrap();
        sheet
            .lines
            .into_iter()
            .map(|line| line.about)
            .collect::<Vec<_>>()
    };
    let always = [
        "What is not shown",
        "Listeners",
        "Agreement",
        "The words used",
    ];
    for child in ["C01", "C02", "C03", "C04"] {
        let there = lines(child);
        assert!(
            always.iter().all(|about| there.contains(about)),
            "{there:?}"
        );
        // C04 was never heard after treatment.
        assert_eq!(there.contains(&"Afterwards"), child != "C04", "{child}");
        assert!(there.contains(&"Typical peers"));
    }
    assert_eq!(report::clinic::child_sheet(&found, "P01"), None);
}

/// Of the eight listeners seven were kept; one of them is left without a word of C01.
#[test]
fn only_who_heard_a_child_is_counted_on_her_page() {
    let mut record = record();
    let hers = |token: &str| {
        let mut tokens = record.tokens.iter();
        let token = tokens.find(|one| one.name == token).unwrap();
        token
            .key
            .child
            .as_ref()
            .is_some_and(|child| child.as_str() == "C01")
    };
    let mut rows = record.presentations.clone();
    rows.retain(|row| row.listener.as_str() != "L01" || !hers(&row.token));
    record.presentations = rows;
    let found = findings(&record);
    for (child, people) in [("C01", "6 people"), ("C02", "7 people")] {
        let sheet = report::clinic::child_sheet(&found, child).unwrap();
        let mut lines = sheet.lines.iter();
        let said = &lines.find(|line| line.about == "Listeners").unwrap().said;
        let who = format!("{people} who were told neither the child nor the date heard ");
        assert!(said.starts_with(&who), "{said}");
    }
}

/// What a clinician decides from.
const PAGES: [&str; 5] = [
    "/desk/children/C01/outcome",
    "/desk/children/C01/hear",
    "/desk/children/C01/links",
    "/desk/caseload",
    "/desk/outcome",
];

/// Adds lines to what is to be kept in mind until there are so many, each as long as a warning is, and twice to the others,
/// for what this child has not; gives how many there are.
const WARN: &str = "\
    const others = [...document.querySelectorAll('.sheet > .lines')].at(-1);\
    if (others.querySelectorAll('.more').length < 2) {\
        const more = others.firstElementChild.cloneNode(true);\
        more.className = 'more';\
        others.prepend(more, more.cloneNode(true));\
    }\
    const lines = document.querySelector('.mind .lines');\
    const said = 'The recordings tell treatment from baseline by how far speech stands over the noise: in 100% of pairs \
        of one child’s words the later one has more. Who hears the room may know early from late, though nobody told.';\
    while (lines.children.length < MANY) {\
        const line = document.createElement('div');\
        line.append(document.createElement('dt'), document.createElement('dd'));\
        line.firstChild.textContent = 'Early or late was guessed';\
        line.lastChild.textContent = said;\
        lines.append(line);\
    }\
    return lines.children.length;";

async fn prints_on_one_sheet(browser: &Browser) {
    for (name, width, height) in [("A4", 21.0, 29.7), ("Letter", 21.59, 27.94)] {
        let size = PrintSize { width, height };
        let paper = PrintConfigurationBuilder::default()
            .size(size)
            .build()
            .unwrap();
        let pdf = browser.client.print(paper).await.unwrap();
        assert_eq!(pages(&pdf), 1, "{name}");
    }
}

/// Pages in a PDF, by its objects.
fn pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    text.match_indices("/Type /Page")
        .filter(|(at, found)| !text[at + found.len()..].starts_with('s'))
        .count()
}

#[tokio::test]
async fn the_page_prints_on_one_sheet_is_open_to_everybody_and_fits_a_phone() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    let (_study, desk) = tokio::task::spawn_blocking(|| {
        let study = unlocked();
        account(&study, "Ada", "researcher", &[]);
        let desk = Desk::of(&study);
        (study, desk)
    })
    .await
    .unwrap();
    let address = format!("{}/desk/children/C01/outcome", desk.address);
    let none = serde_json::json!([]);
    let browser = Browser::open().await;
    sign_in(&browser, &desk.address).await;
    browser.go(&address).await;
    prints_on_one_sheet(&browser).await;
    // With more to warn of, up to everything that there is, too.
    for many in 1..=8_u64 {
        let warned = browser.js(&WARN.replace("MANY", &many.to_string())).await;
        assert!(warned.as_u64() >= Some(many));
        prints_on_one_sheet(&browser).await;
    }
    for page in PAGES {
        browser.go(&format!("{}{page}", desk.address)).await;
        browser.js(&axe).await;
        let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
        assert_eq!(found, none, "{page}");
    }
    browser.close().await;
    let phone = Browser::open_phone(320).await;
    sign_in(&phone, &desk.address).await;
    for page in PAGES {
        phone.go(&format!("{}{page}", desk.address)).await;
        assert_eq!(phone.js(TOO_WIDE).await, serde_json::json!(false), "{page}");
        assert_eq!(phone.js(TOO_SMALL).await, none, "{page}");
    }
    phone.close().await;
    tokio::task::spawn_blocking(move || drop(desk))
        .await
        .unwrap();
}
