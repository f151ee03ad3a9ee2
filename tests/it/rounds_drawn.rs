//! Starts that were drawn, tested on the sessions of all rounds together.

use std::collections::BTreeMap;

use fairhearing::app;

use crate::assigning::assign;
use crate::rounds::heard;
use crate::rounds::plan;
use crate::rounds::sealed;
use crate::support::Study;

/// Treatment begins at one of two sessions of each child, as it is drawn.
const STARTS: &str = "[draw]\ndesign = \"start-points\"\n\
    allowed = { C01 = [2, 3], C02 = [2, 3], C03 = [3, 4], C04 = [3, 4] }\n\
    [contrast]\nfrom = \"baseline\"\nto = \"treatment\"\n";

/// The same recordings as the other tests of several rounds, with the phases that were drawn; and the session that each child's treatment began at.
fn study_with_drawn_starts() -> (Study, BTreeMap<String, usize>) {
    let study = Study::with()
        .children(4)
        .sessions(4)
        .words(6)
        .listeners(4)
        .judgements(4)
        .made();
    let children = ["C01", "C02", "C03", "C04"].map(|code| format!("{{ code = {code:?} }}"));
    let plan = format!("children = [{}]\n{STARTS}", children.join(", "));
    let assigned = assign(&study, &plan, app::Again::No).unwrap();
    let starts: BTreeMap<String, usize> = assigned
        .sheet
        .lines
        .iter()
        .map(|line| {
            let start = line.drawn.chars().filter(char::is_ascii_digit);
            (
                line.case.clone(),
                start.collect::<String>().parse().unwrap(),
            )
        })
        .collect();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let lines: Vec<String> = manifest
        .lines()
        .map(|line| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if let (Some(start), Ok(session)) = (starts.get(cells[1]), cells[2].parse::<usize>()) {
                cells[3] = if session < *start {
                    "baseline"
                } else {
                    "treatment"
                };
            }
            cells.join(",")
        })
        .collect();
    std::fs::write(study.manifest(), lines.join("\n")).unwrap();
    study.import().unwrap();
    study.note_consents();
    (study, starts)
}

/// Mean from its start on less mean before it, of a child's sessions in order.
fn gain(scores: &[f64], start: usize) -> f64 {
    let mean = |scores: &[f64]| scores.iter().sum::<f64>() / scores.len() as f64;
    mean(&scores[start - 1..]) - mean(&scores[..start - 1])
}

#[test]
fn drawn_starts_are_tested_on_the_sessions_of_all_rounds() {
    let (study, starts) = study_with_drawn_starts();
    let contrast = "smallest_change = 0.8";
    plan(&study, "autumn", "phases = [\"baseline\"]", contrast);
    heard(&study, &sealed(&study, 0).unwrap(), 0);
    plan(&study, "winter", "only_new = true\nlinks = 0.9", contrast);
    let winter = heard(&study, &sealed(&study, 5).unwrap(), 10);
    let found = serde_json::to_value(&winter.round).unwrap();
    let over = &found["over_rounds"];
    let test = &over["randomisation"];
    assert_eq!(test["assignments"], 16.0, "{}", over["reasons"]);
    // All 2⁴ ways in which the starts could have fallen, counted here once more.
    let children: Vec<(Vec<f64>, usize)> = starts
        .iter()
        .map(|(child, start)| {
            let sessions = over["sessions"].as_array().unwrap().iter();
            let own = sessions.filter(|session| session["child"] == child.as_str());
            let scores = own.map(|session| session["proportion_correct"].as_f64().unwrap());
            (scores.collect(), *start)
        })
        .collect();
    assert!(children.iter().all(|(scores, _)| scores.len() == 4));
    let drawn: f64 = children
        .iter()
        .map(|(scores, start)| gain(scores, *start))
        .sum();
    let mut sums = vec![0.0];
    for ((scores, _), allowed) in children.iter().zip([[2, 3], [2, 3], [3, 4], [3, 4]]) {
        let ways = allowed.map(|start| gain(scores, start));
        sums = sums
            .iter()
            .flat_map(|sum| ways.map(|way| sum + way))
            .collect();
    }
    let as_large = sums.iter().filter(|sum| **sum >= drawn - 1e-9).count();
    let number = |field: &str| test[field].as_f64().unwrap();
    assert!((number("observed") - drawn / 4.0).abs() < 1e-9);
    assert!((number("p") - as_large as f64 / 16.0).abs() < 1e-9);
    assert!((number("smallest_p") - 1.0 / 16.0).abs() < 1e-12);
    let page = fairhearing::report::page(&winter.round).unwrap();
    assert!(page.contains("The draw over all rounds") && page.contains("Among the 16 draws"));
}
