//! Papers for an ethics board: what they tell of the study is what was recorded, and they name nobody.

use fairhearing::app::Now;
use fairhearing::folder;
use fairhearing::report;
use fairhearing::report::Paper;
use rusqlite::Connection;

use crate::program::run;
use crate::support::Staff;
use crate::support::Study;

const LATER: Now = Now::at_ms(1_749_000_000_000);

#[test]
fn the_data_sheet_counts_what_the_study_holds() {
    let study = Study::with()
        .children(3)
        .peers(1)
        .checks(2)
        .practice(2)
        .sealed();
    let file = Connection::open(study.database()).unwrap();
    let count = |sql: &str| -> usize {
        let n: u32 = file.query_row(sql, [], |row| row.get(0)).unwrap();
        n as usize
    };
    let facts = folder::paper_facts(&study.workspace, LATER).unwrap();
    assert_eq!(facts.recordings, count("SELECT count(*) FROM token"));
    assert_eq!(facts.children, count("SELECT count(*) FROM child"));
    let agreed = count("SELECT count(DISTINCT child_id) FROM consent");
    assert_eq!(facts.lacking, facts.children - agreed);
    let sheet = report::paper(Paper::DataSheet, &facts).unwrap();
    for said in [
        format!(
            "{} recordings so far, of {} children",
            facts.recordings, facts.children
        ),
        format!("({})", facts.rounds[0].1),
        "these data are coded, and not anonymous".to_owned(),
        "law of your country come first".to_owned(),
    ] {
        assert!(sheet.contains(&said), "no “{said}” in {sheet}");
    }
    for code in ["C01", "C02"] {
        assert!(!sheet.contains(code), "{code} stands in {sheet}");
    }
}

#[test]
fn every_paper_is_a_page_of_the_desk_and_a_file_of_the_command() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    let overview = desk.get("/desk/papers").text();
    let beside = tempfile::tempdir().unwrap();
    let out = beside.path().join("papers");
    let (workspace, folder) = (study.folder(), out.to_str().unwrap());
    let workspace = workspace.to_str().unwrap();
    let written = run(
        &[
            "papers",
            "--workspace",
            workspace,
            "--out",
            folder,
            "--json",
        ],
        "",
    )
    .json();
    for paper in Paper::ALL {
        assert!(overview.contains(paper.purpose()), "{overview}");
        let page = desk.get(&format!("/desk/papers/{}", paper.name()));
        assert_eq!(page.status, 200);
        let page = page.text();
        assert!(
            page.contains(paper.title()) && page.contains("ethics board"),
            "{page}"
        );
        let file = std::fs::read_to_string(out.join(format!("{}.html", paper.name()))).unwrap();
        let body = |text: &str| text.split("<main>").nth(1).unwrap().to_owned();
        if *paper != Paper::DataSheet {
            assert_eq!(body(&file), body(&page));
        }
        let files = written["files"].as_array().unwrap();
        assert!(
            files.contains(&format!("{}.html", paper.name()).into()),
            "{written}"
        );
    }
    assert_eq!(desk.get("/desk/papers/treaty").status, 404);
}
