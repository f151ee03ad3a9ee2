//! Assigning: a draw is sealed once, before treatment, whole or not at all; and nothing else is called random.

use std::io::BufRead;
use std::io::BufReader;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;

use fairhearing::app;
use fairhearing::app::Again;
use fairhearing::app::AppError;
use fairhearing::app::Assigned;
use fairhearing::app::Now;
use fairhearing::seal::Salt;
use fairhearing::store::AssignmentId;
use fairhearing::store::AssignmentRow;
use fairhearing::store::StoreError;
use fairhearing::study::Assignment;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use rusqlite::Connection;
use serde_json::Value;

use crate::program::Written;
use crate::program::run;
use crate::support::Study;
use crate::support::listen;

const DRAW: &str = "looks = 3\n\
    children = [{ code = \"C01\" }, { code = \"C02\" }, { code = \"C03\" }, { code = \"C04\" }]\n\
    [words]\ntreated = [\"sail\", \"sun\"]\ncontrol = [\"ice\"]\n\
    [draw]\ndesign = \"cohorts\"\ncohorts = [\"cued\", \"free\"]\n\
    [contrast]\nfrom = \"baseline\"\nto = \"treatment\"\n";

/// Before the study's recordings are imported.
const DAY_ONE: Now = Now::at_ms(1_748_851_200_000);

fn written(study: &Study, text: &str) -> PathBuf {
    let path = study.folder().join("draw.toml");
    std::fs::write(&path, text).unwrap();
    path
}

pub(crate) fn assign(study: &Study, text: &str, again: Again) -> Result<Assigned, AppError> {
    app::assign(&study.workspace, &written(study, text), again, DAY_ONE)
}

fn findings(study: &Study) -> Vec<String> {
    app::verify(&study.workspace, &[]).unwrap().findings
}

#[test]
fn a_draw_is_sealed_once_with_its_contrast_and_names_nobody_in_the_log() {
    let study = Study::with().made();
    let drawn = assign(&study, DRAW, Again::No).unwrap();
    assert_eq!((drawn.sheet.number, drawn.sheet.numbers.draws), (1, 6.0));
    assert_eq!(drawn.sheet.lines.len(), 4);
    let cued = drawn
        .sheet
        .lines
        .iter()
        .filter(|line| line.drawn == "cued")
        .count();
    assert_eq!(cued, 2);
    let events = study.events();
    let last = events.last().unwrap();
    assert_eq!(last.kind, "assignment drawn");
    assert!(last.body.as_str().contains(&drawn.sheet.seal));
    let file = Connection::open(study.database()).unwrap();
    let sealed: String = file
        .query_row("SELECT document || plan FROM assignment", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert!(
        sealed.contains("\"smallest_change\":0.15") && sealed.contains("\"looks\":3"),
        "{sealed}"
    );
    assert!(!sealed.contains("C01") && !last.body.as_str().contains("C01"));
    assert_eq!(findings(&study), Vec::<String>::new());
    assert_eq!(app::assigned(&study.workspace).unwrap(), drawn);
}

#[test]
fn drawing_twice_is_refused_or_logged_as_a_second_draw() {
    let study = Study::with().made();
    let first = assign(&study, DRAW, Again::No).unwrap();
    let refused = assign(&study, DRAW, Again::No).unwrap_err().to_string();
    assert!(refused.contains("assigned already"), "{refused}");
    let silent = assign(&study, DRAW, Again::Because("  ".to_owned())).unwrap_err();
    assert!(silent.to_string().contains("needs a reason"), "{silent}");
    assert_eq!(study.events().len(), 2);
    let second = assign(
        &study,
        DRAW,
        Again::Because("a family moved away".to_owned()),
    )
    .unwrap();
    assert_eq!(second.sheet.number, 2);
    assert_eq!(second.sheet.earlier, vec![first.sheet.seal]);
    let told: String = study
        .events()
        .iter()
        .map(|event| event.body.as_str().to_owned())
        .collect();
    assert!(
        !told.contains("moved"),
        "the reason may tell of a child: {told}"
    );
    assert_eq!(findings(&study), Vec::<String>::new());
}

#[test]
fn a_plan_that_cannot_be_drawn_is_refused_and_nothing_is_sealed() {
    let study = Study::with().made();
    for (from, to, wanted) in [
        (
            "\"baseline\"",
            "\"before\"",
            "`before` is no phase of this study",
        ),
        (
            "\"free\"",
            "\"other\"",
            "`other` is no cohort of this study",
        ),
        ("C02", "C01", "listed twice"),
        ("looks = 3", "looks = 0", "`looks` is 0"),
        ("\"ice\"", "\"sun\"", "treated and a control"),
        ("design = \"cohorts\"", "design = \"dice\"", "draw.toml:"),
    ] {
        let said = assign(&study, &DRAW.replacen(from, to, 1), Again::No).unwrap_err();
        assert!(
            said.is_the_askers() && said.to_string().contains(wanted),
            "{said}"
        );
    }
    assert_eq!(study.events().len(), 1);
}

#[test]
fn the_command_previews_draws_shows_and_writes_a_sheet_that_stands_alone() {
    let study = Study::with().made();
    let files = Written::new(&[("draw.toml", DRAW)]);
    let (plan, out) = (files.path("draw.toml"), files.path("sheet"));
    let folder = study.folder().display().to_string();
    let common = ["assign", "--workspace", &folder];
    let with = |more: &[&str]| run(&[&common[..], more].concat(), "");
    let before = with(&["--plan", &plan, "--preview", "--json"]).json();
    assert_eq!(before["draws"], 6.0);
    assert!((before["smallest_p_two_sided"].as_f64().unwrap() - 2.0 / 6.0).abs() < 1e-12);
    let said = with(&["--plan", &plan, "--preview"]).out;
    assert!(
        said.contains("cannot fall to .05") && said.contains("Nothing is drawn"),
        "{said}"
    );
    assert_eq!(study.events().len(), 1, "a preview draws nothing");
    assert!(with(&["--show"]).refusal().contains("nothing was assigned"));
    let drawn = with(&["--plan", &plan, "--out", &out, "--json"]).json();
    let page = std::fs::read_to_string(format!("{out}/sheet.html")).unwrap();
    let seal = drawn["seal"].as_str().unwrap();
    assert!(
        page.contains(seal) && page.contains("C04") && !page.contains("<script"),
        "{page}"
    );
    let shown = with(&["--show"]).out;
    assert!(shown.contains(seal), "{shown}");
    let kept: Assignment =
        serde_json::from_slice(&std::fs::read(format!("{out}/assignment.json")).unwrap()).unwrap();
    assert_eq!(kept, app::assigned(&study.workspace).unwrap().assignment);
    assert!(with(&["--plan", &plan]).refusal().contains("--again --why"));
    let again = with(&[
        "--plan",
        &plan,
        "--again",
        "--why",
        "the wrong list",
        "--json",
    ])
    .json();
    assert_eq!(again["number"], 2);
}

/// The variable that makes the test program itself the one that is killed.
const VICTIM: &str = "FAIRHEARING_TEST_VICTIM_OF_A_DRAW";

/// Writes what was drawn, says so, and then takes its time before the event. Does nothing where the variable is not set.
#[test]
fn victim_between_draw_and_seal() {
    let Ok(database) = std::env::var(VICTIM) else {
        return;
    };
    let store = fairhearing::store::Store::open(database.as_ref()).unwrap();
    let written: Result<(), StoreError> = store.write(|writing| {
        let row = AssignmentRow {
            id: AssignmentId::default(),
            number: 1,
            drawn_ms: 1,
            plan: "{}".to_owned(),
            drawn: "[]".to_owned(),
            document: "{}".to_owned(),
            seal: String::new(),
            seed: [0; 32],
            salt: Salt::new([0; 16]),
            why: None,
        };
        writing.add_assignment(&row, &[])?;
        println!("drawn and not sealed");
        std::thread::sleep(std::time::Duration::from_mins(10));
        Ok(())
    });
    written.unwrap();
}

#[test]
fn a_kill_between_draw_and_seal_leaves_neither() {
    let study = Study::with().made();
    let mut victim = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "assigning::victim_between_draw_and_seal",
            "--nocapture",
        ])
        .env(VICTIM, study.database())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(victim.stdout.take().unwrap()).lines();
    assert!(lines.any(|line| line.unwrap().contains("drawn and not sealed")));
    // On Unix this is SIGKILL: nothing in the program can answer it.
    victim.kill().unwrap();
    victim.wait().unwrap();
    assert_eq!(study.events().len(), 1);
    let refused = app::assigned(&study.workspace).unwrap_err().to_string();
    assert!(refused.contains("nothing was assigned"), "{refused}");
    assert_eq!(findings(&study), Vec::<String>::new());
    assign(&study, DRAW, Again::No).unwrap();
    assert_eq!(findings(&study), Vec::<String>::new());
}

/// Four children in four sessions, treated as `cohort_of` says.
fn treated(study: &Study, cohort_of: impl Fn(&str) -> String) {
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let mend = |line: &str| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        if cells[1].starts_with("C0") {
            cells[5] = cohort_of(&cells[1]);
        }
        cells.join(",")
    };
    let lines: Vec<String> = manifest.lines().map(mend).collect();
    std::fs::write(study.manifest(), lines.join("\n")).unwrap();
    study.import().unwrap();
    study.note_consents();
}

/// A study whose manifest can still be changed.
fn fresh() -> Study {
    Study::with().children(4).sessions(4).listeners(3).made()
}

/// Seals a round, lets everybody judge, closes and unlocks it, and gives its outcome.
fn heard(study: &Study, round: &str, minute: i64) -> Value {
    let with = study.with.clone().round(round);
    let sealed = study.seal(&with).unwrap();
    for (number, link) in sealed.links.iter().enumerate() {
        let mut turn = number;
        listen(&study.workspace, link, |_| {
            turn += 1;
            if turn % 3 == 0 { Distorted } else { Correct }
        });
    }
    let later = |more: i64| Now::at_ms(1_750_000_000_000 + (minute + more) * 60_000);
    app::close(&study.workspace, &sealed.round, later(0)).unwrap();
    app::unlock(&study.workspace, &sealed.round, later(1)).unwrap();
    let unlocked = app::unlocked(&study.workspace, &sealed.round).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap();
    let page = fairhearing::report::page(&found.round).unwrap();
    assert!(page.contains("What was assigned by a draw"));
    serde_json::to_value(&found.round).unwrap()
}

#[test]
fn only_what_was_drawn_and_sealed_is_tested() {
    let never_drawn = fresh();
    treated(&never_drawn, |_| "cued".to_owned());
    let found = heard(&never_drawn, "spring", 0);
    assert_eq!(found["outcome"]["cohort_test"], Value::Null);

    let drawn = fresh();
    let assigned = assign(&drawn, DRAW, Again::No).unwrap();
    let fell_to = |child: &str| {
        let line = assigned.sheet.lines.iter().find(|line| line.case == child);
        line.unwrap().drawn.clone()
    };
    treated(&drawn, fell_to);
    let found = heard(&drawn, "spring", 0);
    let test = &found["outcome"]["cohort_test"];
    assert_eq!(test["arrangements"], 6.0, "{}", found["outcome"]["reasons"]);
    assert!((test["smallest_p"].as_f64().unwrap() - 2.0 / 6.0).abs() < 1e-12);
    assert_eq!(found["round"]["assignments"][0]["recordings"], 0);
    assert_eq!(findings(&drawn), Vec::<String>::new());

    let otherwise = fresh();
    let assigned = assign(&otherwise, DRAW, Again::No).unwrap();
    let the_other = |child: &str| {
        let line = assigned.sheet.lines.iter().find(|line| line.case == child);
        if line.unwrap().drawn == "cued" {
            "free"
        } else {
            "cued"
        }
        .to_owned()
    };
    treated(&otherwise, the_other);
    let found = heard(&otherwise, "spring", 0);
    assert_eq!(found["outcome"]["cohort_test"], Value::Null);
    let why = found["outcome"]["reasons"]["cohort_test"].as_str().unwrap();
    assert!(why.contains("did not go as drawn"), "{why}");

    let too_late = fresh();
    treated(&too_late, |child| {
        if child < "C03" { "cued" } else { "free" }.to_owned()
    });
    assign(&too_late, DRAW, Again::No).unwrap();
    let found = heard(&too_late, "spring", 0);
    assert_eq!(found["outcome"]["cohort_test"], Value::Null);
    let why = found["outcome"]["reasons"]["cohort_test"].as_str().unwrap();
    assert!(why.contains("when treatment had begun"), "{why}");
}

#[test]
fn looks_are_counted_and_one_too_many_is_a_deviation() {
    let study = fresh();
    assign(&study, &DRAW.replace("looks = 3", "looks = 2"), Again::No).unwrap();
    treated(&study, |_| "cued".to_owned());
    let sentence = |found: &Value| {
        found["outcome"]["changes"][0]["sentence"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    let first = heard(&study, "week six", 0);
    assert!(
        sentence(&first).contains("look 1 of 2 that were planned; 1 is to come"),
        "{}",
        sentence(&first)
    );
    assert_eq!(first["outcome"]["looks"]["to_come"], 1);
    let second = heard(&study, "week twelve", 100);
    assert!(sentence(&second).contains("look 2 of 2 that were planned; none is to come"));
    let one = second["outcome"]["false_improved_expected"]
        .as_f64()
        .unwrap();
    let both = second["outcome"]["looks"]["false_improved_expected"]
        .as_f64()
        .unwrap();
    assert!((both - 2.0 * one).abs() < 1e-12 && one > 0.0);
    let third = heard(&study, "one more", 200);
    assert!(sentence(&third).contains("look 3, where 2 were planned"));
    let deviations = third["round"]["deviations"].to_string();
    assert!(
        deviations.contains("looked at more often than was planned"),
        "{deviations}"
    );
    assert!(
        !second["round"]["deviations"]
            .to_string()
            .contains("more often")
    );
    let mentioned: Vec<_> = third["round"]["rounds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| m["round"].clone())
        .collect();
    assert_eq!(mentioned, ["week six", "week twelve", "one more"]);
    assert_eq!(findings(&study), Vec::<String>::new());
}
