//! Exports: complete, the same bytes each time, and, where they are to be shared, without anything that
//! tells who a child is.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::exchange;
use fairhearing::exchange::Form;
use fairhearing::seal;
use fairhearing::seal::Canonical;
use fairhearing::seal::Digest;
use fairhearing::study::ChildCode;
use fairhearing::study::ChildLabel;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::Phase;
use fairhearing::study::RoundName;
use serde_json::Value;

use crate::program::run;
use crate::support::Labels;
use crate::support::Study;
use crate::support::With;
use crate::support::listen;
use crate::support::record;

const LATER: Now = Now::at_ms(1_749_000_000_000);

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A round that two listeners judged, unlocked.
fn unlocked(with: With, edit: impl Fn(String) -> String) -> Study {
    let mut study = with.made();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    std::fs::write(study.manifest(), edit(manifest)).unwrap();
    study.import().unwrap();
    study.note_consents();
    study.round = Some(study.seal(&study.with).unwrap());
    let mut heard = 0_u32;
    for link in study.links() {
        listen(&study.workspace, link, |_| {
            heard += 1;
            if heard.is_multiple_of(3) {
                Distorted
            } else {
                Correct
            }
        });
    }
    let round = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &round, LATER).unwrap();
    app::unlock(&study.workspace, &round, LATER).unwrap();
    study
}

/// The files of an export or a report, by name.
fn written(study: &Study, command: &[&str], name: &str) -> BTreeMap<String, Vec<u8>> {
    let out = study.audio().join(name);
    let folder = study.folder();
    let place = [
        "--workspace",
        arg(&folder),
        "--round",
        "spring",
        "--out",
        arg(&out),
    ];
    let ran = run(&[command, &place[..]].concat(), "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    std::fs::read_dir(&out)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read(path).unwrap())
        })
        .collect()
}

fn is_table(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|end| end == "csv")
}

fn text<'f>(files: &'f BTreeMap<String, Vec<u8>>, name: &str) -> &'f str {
    std::str::from_utf8(&files[name]).unwrap()
}

#[test]
fn an_export_holds_plan_seal_seeds_and_hashes_and_is_the_same_each_time() {
    let study = unlocked(Study::with(), |manifest| manifest);
    let first = written(&study, &["export"], "first");
    let second = written(&study, &["export"], "second");
    assert!(first == second, "two exports differ");
    let report = written(&study, &["report"], "report");
    for (name, bytes) in &first {
        assert!(
            name == "SHA256SUMS" || report[name] == *bytes,
            "{name} differs in the report"
        );
    }
    let sealed = Canonical::stored(text(&first, "sealed.json"));
    let seal = &study.round.as_ref().unwrap().seal;
    assert_eq!(seal::seal_of(&sealed).to_string(), *seal);
    assert!(text(&first, "README.txt").contains(seal));
    let plan = exchange::read_plan("plan.toml", text(&first, "plan.toml")).unwrap();
    let wanted = exchange::read_plan("plan.toml", &study.with.plan()).unwrap();
    assert_eq!(plan, wanted);
    let seeds: Value = serde_json::from_slice(&first["seeds.json"]).unwrap();
    assert_eq!(seeds["resampling"], 7);
    assert_eq!(seeds["orders"].as_str().unwrap().len(), 64);
    for files in [&first, &report] {
        let list = exchange::read_hashes("list", &files["SHA256SUMS"]).unwrap();
        assert_eq!(list.len(), files.len() - 1);
        for (name, sha256) in list {
            assert_eq!(Digest::of(&files[&name]).to_string(), sha256, "{name}");
        }
    }
}

#[test]
fn every_column_of_an_export_is_in_its_dictionary_and_no_other() {
    let study = unlocked(Study::with(), |manifest| manifest);
    for (command, name) in [
        (&["export"][..], "plain"),
        (&["export", "--share"], "shared"),
    ] {
        let files = written(&study, command, name);
        let dictionary = text(&files, "data_dictionary.csv");
        let mut explained: Vec<(&str, &str)> = dictionary
            .lines()
            .skip(1)
            .filter_map(|line| {
                let mut cells = line.split(',');
                Some((cells.next()?, cells.next()?))
            })
            .collect();
        let mut there = Vec::new();
        for (file, bytes) in files.iter().filter(|(file, _)| is_table(file)) {
            let header = std::str::from_utf8(bytes).unwrap().lines().next().unwrap();
            there.extend(header.split(',').map(|column| (file.as_str(), column)));
        }
        there.retain(|(file, _)| *file != "data_dictionary.csv");
        there.sort_unstable();
        explained.sort_unstable();
        assert_eq!(explained, there, "{name}");
    }
}

/// The commands on an export give the numbers of its own findings, digit for digit.
#[track_caller]
fn check_read_again(study: &Study, name: &str, found: &Value) {
    let out = study.audio().join(name);
    let file = |name: &str| out.join(name).to_str().unwrap().to_owned();
    let common = [file("ratings.csv"), file("tokens.csv"), file("panel.csv")];
    let [ratings, tokens, panel] = common.each_ref().map(String::as_str);
    let outcome = [
        "outcome", ratings, "--tokens", tokens, "--panel", panel, "--seed", "7", "--json",
    ];
    let phases = &study.with.labels.phases;
    let (from, to) = (
        format!("--baseline={}", phases[0]),
        format!("--treatment={}", phases[1]),
    );
    let ran = run(&[&outcome[..], &[&from, &to]].concat(), "");
    assert_eq!(ran.json(), found["outcome"]);
    let agreement = [
        "agreement",
        ratings,
        "--tokens",
        tokens,
        "--panel",
        panel,
        "--categories",
        "correct,distorted",
        "--seed",
        "7",
        "--json",
    ];
    assert_eq!(run(&agreement, "").json(), found["agreement"]);
    let (key, rules) = (file("key.csv"), file("rules.toml"));
    let listeners = [
        "listeners",
        ratings,
        "--key",
        &key,
        "--rules",
        &rules,
        "--json",
    ];
    assert_eq!(run(&listeners, "").json(), found["listeners"]);
}

#[test]
fn what_is_shared_tells_nothing_of_a_child_and_gives_the_same_results() {
    let study = unlocked(
        Study::with()
            .labels(Labels::markers())
            .bar(1, 1)
            .judgements(1),
        |manifest| {
            manifest
                .replace("[s]ail", "ZQXWORDXQ[s]")
                .replace("[s]and", "ZQXFORMULA[s]")
        },
    );
    let files = written(&study, &["report", "--share"], "shared");
    let labels = &study.with.labels;
    let mut never = labels.dates.clone();
    never.extend([
        labels.child.clone(),
        labels.file.clone(),
        "ZQXWORDXQ".to_owned(),
    ]);
    never.extend(["ZQXFORMULA".to_owned(), "ZQXOTHERSPEAKERXQZ".to_owned()]);
    never.extend(labels.target.clone());
    never.extend(labels.position.clone());
    for (name, bytes) in &files {
        let text = String::from_utf8_lossy(bytes);
        for marker in &never {
            assert!(!text.contains(marker.as_str()), "{marker} is in {name}");
        }
    }
    assert!(text(&files, "README.txt").contains("To be shared"));
    let tokens = text(&files, "tokens.csv");
    assert!(tokens.lines().nth(1).unwrap().contains(",X0"), "{tokens}");
    let found: Value = serde_json::from_slice(&files["findings.json"]).unwrap();
    check_read_again(&study, "shared", &found);
    let plain = written(&study, &["report"], "plain");
    let plain: Value = serde_json::from_slice(&plain["findings.json"]).unwrap();
    check_read_again(&study, "plain", &plain);
    // The same results under other names: what is not resampled does not move.
    let shares = |found: &Value| {
        let sessions = found["outcome"]["sessions"].as_array().unwrap().iter();
        let mut shares: Vec<_> = sessions
            .map(|row| row["proportion_correct"].to_string() + &row["ci"].to_string())
            .collect();
        shares.sort_unstable();
        shares
    };
    assert_eq!(shares(&found), shares(&plain));
    assert_eq!(
        found["agreement"]["gwet_ac1"],
        plain["agreement"]["gwet_ac1"]
    );
}

#[test]
fn days_are_counted_from_the_first_recording_and_ages_are_in_half_years() {
    let record = record();
    let codes = ["P02", "C03", "C01", "C04", "P01", "C02"];
    let order: Vec<_> = codes
        .iter()
        .map(|code| ChildCode::new(code).unwrap())
        .collect();
    let shared = exchange::shared(std::slice::from_ref(&record), &order).unwrap();
    let shared = &shared[0];
    let tokens = String::from_utf8(exchange::write_tokens(shared, Form::Shared)).unwrap();
    let mut lines = tokens
        .lines()
        .map(|line| line.split(',').collect::<Vec<_>>());
    let header = lines.next().unwrap();
    let place = |name: &str| header.iter().position(|column| *column == name).unwrap();
    let first = lines.next().unwrap();
    // C01, third in the order; 74 months are 12 half-years; her first recording is the study's.
    assert_eq!(first[place("child")], "X03");
    assert_eq!(first[place("age_half_years")], "12");
    assert_eq!(first[place("day")], "0");
    let second_session = tokens
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect::<Vec<_>>());
    let mut second_session = second_session.filter(|cells| cells[place("session")] == "2");
    // The record's sessions lie seven days apart.
    assert_eq!(second_session.next().unwrap()[place("day")], "7");
    assert_eq!(shared.missing[0].reason, "not recorded");
    assert!(shared.missing.iter().all(|row| row.child.starts_with('X')));
    let read = exchange::read_tokens("t", tokens.as_bytes()).unwrap();
    let plain = exchange::write_tokens(&record, Form::Internal);
    let plain = exchange::read_tokens("t", plain.as_slice()).unwrap();
    let apart = |table: &fairhearing::study::TokenTable| {
        let first = table.rows[0].date.unwrap();
        let days = table
            .rows
            .iter()
            .map(|row| (row.date.unwrap() - first).get_days());
        days.collect::<Vec<_>>()
    };
    assert_eq!(apart(&read), apart(&plain));
}

#[test]
fn free_text_is_guarded_against_formulas_and_labels_are_not() {
    // An older study may hold what an import refuses today.
    let mut record = record();
    record.tokens[0].key.word = "=1+[s]".parse().unwrap();
    record.tokens[0].key.phase = Some(Phase::new("-before").unwrap());
    let tokens = exchange::write_tokens(&record, Form::Internal);
    let tokens = String::from_utf8(tokens).unwrap();
    assert!(tokens.contains(",'=1+[s],"), "{tokens}");
    assert!(tokens.contains(",-before,"), "{tokens}");
}

#[test]
fn a_label_that_tells_a_date_or_a_child_stops_what_would_be_shared() {
    let refused = |labels: Labels, child_label: Option<&str>| {
        let study = unlocked(Study::with().labels(labels), |manifest| manifest);
        if let Some(label) = child_label {
            let label = ChildLabel::new(label).unwrap();
            let child = ChildCode::new(&study.with.child(0)).unwrap();
            app::label_child(&study.workspace, &child, Some(&label)).unwrap();
        }
        let name = RoundName::new("spring").unwrap();
        let unlocked = app::unlocked(&study.workspace, &name).unwrap();
        assert!(app::findings(&study.workspace, &unlocked).is_ok());
        let shared = app::shared_findings(&study.workspace, &unlocked);
        shared.err().map(|refused| refused.to_string())
    };
    let with_cohorts = |cohort: &str| {
        let mut labels = Labels::plain();
        labels.cohorts = vec![cohort.to_owned(), "usual cue".to_owned()];
        labels
    };
    assert_eq!(refused(with_cohorts("weeks 1-2"), None), None);
    let date = refused(with_cohorts("from 2023 on"), None).unwrap();
    assert!(
        date.contains("the label of a cohort seems to tell a date"),
        "{date}"
    );
    assert!(!date.contains("2023"), "{date}");
    let child = refused(with_cohorts("Moritz's own way"), Some("moritz")).unwrap();
    assert!(
        child.contains("the label of a cohort seems to tell a child"),
        "{child}"
    );
    assert!(!child.to_lowercase().contains("moritz"), "{child}");
}

#[cfg(feature = "xlsx")]
#[test]
fn the_workbook_holds_every_table_with_numbers_as_numbers_and_no_formula() {
    let study = unlocked(Study::with(), |manifest| manifest);
    let files = written(&study, &["export"], "out");
    let mut parts = BTreeMap::new();
    let mut archive =
        zip::ZipArchive::new(std::io::Cursor::new(&files["tables.xlsx"][..])).unwrap();
    for place in 0..archive.len() {
        let mut part = archive.by_index(place).unwrap();
        let mut content = String::new();
        part.read_to_string(&mut content).unwrap();
        parts.insert(part.name().unwrap().into_owned(), content);
    }
    let book = &parts["xl/workbook.xml"];
    for file in files.keys().filter_map(|name| name.strip_suffix(".csv")) {
        assert!(
            book.contains(&format!("name=\"{file}\"")),
            "{file} has no sheet: {book}"
        );
    }
    let sheets: String = parts
        .iter()
        .filter(|(name, _)| name.starts_with("xl/worksheets/sheet"))
        .map(|(_, content)| content.as_str())
        .collect();
    assert!(!sheets.contains("<f>"), "a formula");
    // The first response time of the listeners of the tests, as a number.
    assert!(sheets.contains("<v>640</v>"), "{}", &sheets[..2_000]);
    // In a workbook a text is never a formula, and loses the guard that it has in a CSV.
    let table = b"word\r\n'=1+[s]\r\n".to_vec();
    let book = app::write_workbook(&[("tokens".to_owned(), table)]).unwrap();
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(&book[..])).unwrap();
    let mut texts = String::new();
    let mut part = archive.by_name("xl/sharedStrings.xml").unwrap();
    part.read_to_string(&mut texts).unwrap();
    assert!(
        texts.contains("=1+[s]") && !texts.contains("'=1+[s]"),
        "{texts}"
    );
}

#[test]
fn rounds_that_are_shared_together_call_everything_alike() {
    let mut first = record();
    let mut second = record();
    // Whoever was heard first in one round is last in the other, and one word is new.
    second.tokens.reverse();
    first.tokens.truncate(first.tokens.len() - 1);
    let codes = ["P02", "C03", "C01", "C04", "P01", "C02"];
    let order = codes.map(|code| ChildCode::new(code).unwrap());
    let shared = exchange::shared(&[first, second], &order).unwrap();
    let called = |record: &fairhearing::study::record::RoundRecord| {
        let tokens = record.tokens.iter();
        tokens
            .map(|token| {
                let key = &token.key;
                let said = (
                    key.child.clone(),
                    key.word.text(),
                    token.audio_sha256.clone(),
                );
                (token.name.clone(), (said, key.date))
            })
            .collect::<std::collections::BTreeMap<_, _>>()
    };
    let (first, second) = (called(&shared[0]), called(&shared[1]));
    assert_eq!(second.len(), first.len() + 1);
    for (name, said) in first {
        assert_eq!(second[&name], said);
    }
}

#[test]
fn a_draw_under_other_codes_is_the_same_draw() {
    let drawn: fairhearing::study::Assignment = serde_json::from_str(
        r#"{"design": "cohorts", "blocks": [["C01", "C02"]], "cohorts": ["cued", "free"],
            "children": {"C01": "cued", "C02": "free", "C03": "cued"}, "possible": ["010", "001"]}"#,
    )
    .unwrap();
    let child = |code: &str| {
        code.replace("C01", "X3")
            .replace("C02", "X1")
            .replace("C03", "X2")
    };
    let renamed = serde_json::to_value(drawn.renamed(&child, &str::to_owned)).unwrap();
    assert_eq!(
        renamed,
        serde_json::json!({
            "design": "cohorts", "blocks": [["X3", "X1"]], "cohorts": ["cued", "free"],
            "children": {"X3": "cued", "X1": "free", "X2": "cued"}, "possible": ["100", "010"],
        })
    );
    assert_eq!(drawn.children().len(), 5);
}
