//! The command `outcome` on the files of people.

use std::fmt::Write;

use serde_json::Value;

use crate::program::Written;
use crate::program::reference_file;
use crate::program::run;

/// Judgements of 2 × 3 sessions of 2 children: `C01` rises from 20% to 80%, `C02` stays at half.
fn two_children() -> (String, String) {
    let mut ratings = String::from("token,listener,judgement\n");
    let mut tokens = String::from("token,child,session,phase,word,cohort,treated\n");
    for (child, cohort) in [("C01", "cued"), ("C02", "free")] {
        for session in 1..=6 {
            let phase = if session <= 3 {
                "baseline"
            } else {
                "treatment"
            };
            for word in 0..10 {
                let token = format!("{child}s{session}w{word}");
                let treated = if word < 5 { "yes" } else { "no" };
                writeln!(
                    tokens,
                    "{token},{child},{session},{phase},w{word},{cohort},{treated}"
                )
                .unwrap();
                for listener in 0..5 {
                    let wave = (word * 7 + listener * 3 + session) % 10;
                    let share = match (child, phase) {
                        ("C01", "baseline") => 2,
                        ("C01", _) => 8,
                        _ => 5,
                    };
                    let value = if wave < share { "correct" } else { "distorted" };
                    writeln!(ratings, "{token},L{listener},{value}").unwrap();
                }
            }
        }
    }
    (ratings, tokens)
}

fn change<'a>(found: &'a Value, child: &str, words: &str) -> &'a Value {
    let changes = found["changes"].as_array().unwrap();
    changes
        .iter()
        .find(|c| c["child"] == child && c["words"] == words)
        .unwrap()
}

#[test]
fn the_command_gives_the_reference_intervals_on_standard_input() {
    let ratings = std::fs::read_to_string(reference_file("interval_complete_ratings.csv")).unwrap();
    let tokens = reference_file("interval_complete_tokens.csv");
    let found = run(&["outcome", "-", "--tokens", &tokens, "--json"], &ratings).json();
    let first = &found["sessions"][0];
    // tests/reference/expected/17_intervals.json, interval_complete
    assert!((first["proportion_correct"].as_f64().unwrap() - 0.375).abs() < 1e-9);
    assert!((first["ci"][0].as_f64().unwrap() - 0.196_671_031_33).abs() < 1e-6);
    let second = change(&found, "C02", "all");
    assert!((second["ci"][0].as_f64().unwrap() - 0.212_780_104_89).abs() < 1e-6);
    assert!((second["ci_these_days"][1].as_f64().unwrap() - 0.524_766_013_76).abs() < 1e-6);
    assert_eq!(second["verdict"], "improved");
    assert_eq!(second["mdc95_includes_sessions"], true);
    assert_eq!(second["smd"]["scaled_by"], "baseline");
    assert!((found["false_improved_expected"].as_f64().unwrap() - 0.075).abs() < 1e-12);
    assert_eq!(found["cohort_test"], Value::Null);
    assert!(found["reasons"]["cohort_test"].is_string());
}

#[test]
fn what_a_spreadsheet_does_to_a_file_changes_nothing() {
    let (ratings, tokens) = two_children();
    let files = Written::new(&[
        ("tokens.csv", &tokens),
        (
            "marked.csv",
            &format!("\u{feff}{}", tokens.replace('\n', "\r\n")),
        ),
    ]);
    let plain = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &files.path("tokens.csv"),
            "--json",
        ],
        &ratings,
    );
    let marked = format!("\u{feff}{}", ratings.replace('\n', "\r\n"));
    let exported = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &files.path("marked.csv"),
            "--json",
        ],
        &marked,
    );
    assert_eq!(plain.json(), exported.json());
    let semicolons = ratings.replace(',', ";");
    let refused = run(
        &["outcome", "-", "--tokens", &files.path("tokens.csv")],
        &semicolons,
    );
    assert!(refused.refusal().contains("semicolons"), "{}", refused.err);
}

#[test]
fn treated_and_untreated_words_stand_apart_and_sentences_can_be_read() {
    let (ratings, tokens) = two_children();
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let found = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &files.path("tokens.csv"),
            "--json",
        ],
        &ratings,
    )
    .json();
    for words in ["all", "treated", "untreated"] {
        assert_eq!(change(&found, "C01", words)["sessions_to"], 3);
    }
    let rise = change(&found, "C01", "all");
    assert_eq!(rise["verdict"], "improved");
    let sentence = rise["sentence"].as_str().unwrap();
    assert!(
        sentence.starts_with("From 20% to 80% correct: a rise of 60 points ("),
        "{sentence}"
    );
    assert_eq!(found["sessions"][0]["tokens"], 10);
    assert_eq!(found["sessions"][0]["judgements"], 50);
    let text = run(
        &["outcome", "-", "--tokens", &files.path("tokens.csv")],
        &ratings,
    );
    assert!(
        text.out.contains("licensed speech-language professional"),
        "{}",
        text.out
    );
}

#[test]
fn fewer_than_three_sessions_speak_of_these_recordings_only() {
    let (ratings, tokens) = two_children();
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let path = files.path("tokens.csv");
    let found = run(
        &["outcome", "-", "--tokens", &path, "--last", "2", "--json"],
        &ratings,
    )
    .json();
    let rise = change(&found, "C01", "all");
    assert_eq!(rise["sessions_to"], 2);
    assert_eq!(rise["mdc95_includes_sessions"], false);
    assert_eq!(rise["ci"], rise["ci_these_days"]);
    let sentence = rise["sentence"].as_str().unwrap();
    assert!(sentence.contains("between these recordings"), "{sentence}");
    assert!(
        sentence.contains("three in each phase would settle more"),
        "{sentence}"
    );
}

#[test]
fn a_panel_gives_the_outcome_three_ways() {
    let (ratings, tokens) = two_children();
    let mut panel = String::from("listener,kept,weight\n");
    for listener in 0..5 {
        writeln!(
            panel,
            "L{listener},{},{}",
            listener != 4,
            1.0 / f64::from(listener + 1)
        )
        .unwrap();
    }
    let files = Written::new(&[("tokens.csv", &tokens), ("panel.csv", &panel)]);
    let (tokens, panel) = (files.path("tokens.csv"), files.path("panel.csv"));
    let found = run(
        &[
            "outcome", "-", "--tokens", &tokens, "--panel", &panel, "--json",
        ],
        &ratings,
    )
    .json();
    assert_eq!(found["sessions"][0]["judgements"], 40);
    assert_eq!(found["panels"]["kept"]["sessions"], found["sessions"]);
    assert_eq!(found["panels"]["all"]["sessions"][0]["judgements"], 50);
    assert!(found["panels"]["weighted"]["changes"][0]["ci"][0].is_number());
    let few = "listener,kept,weight\nL0,true,1\n";
    let files = Written::new(&[("panel.csv", few)]);
    let refused = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &tokens,
            "--panel",
            &files.path("panel.csv"),
        ],
        &ratings,
    );
    assert!(
        refused
            .refusal()
            .contains("says nothing of the listener `L1`"),
        "{}",
        refused.err
    );
}

#[test]
fn equal_weights_are_no_weights() {
    let (ratings, tokens) = two_children();
    let panel = "listener,kept,weight\nL0,true,2\nL1,true,2\nL2,true,2\nL3,true,2\nL4,true,2\n";
    let files = Written::new(&[("tokens.csv", &tokens), ("panel.csv", panel)]);
    let (tokens, panel) = (files.path("tokens.csv"), files.path("panel.csv"));
    let found = run(
        &[
            "outcome", "-", "--tokens", &tokens, "--panel", &panel, "--json",
        ],
        &ratings,
    )
    .json();
    assert_eq!(found["panels"]["weighted"], found["panels"]["all"]);
}

#[test]
fn cohorts_are_tested_only_where_the_assignment_is_given() {
    let (ratings, tokens) = two_children();
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let path = files.path("tokens.csv");
    let found = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &path,
            "--assignment",
            "random",
            "--json",
        ],
        &ratings,
    )
    .json();
    let test = &found["cohort_test"];
    assert_eq!(test["arrangements"], 2.0);
    assert_eq!(test["smallest_p"], 1.0);
    assert_eq!(test["exact"], true);
    assert_eq!(found["cohorts"][0]["children"], 1);
}

#[test]
fn none_and_one_judgement_have_reasons_and_no_intervals() {
    let tokens = "token,child,session,phase\nt1,C01,1,baseline\nt2,C01,2,treatment\n";
    let files = Written::new(&[("tokens.csv", tokens)]);
    let path = files.path("tokens.csv");
    let found = run(
        &["outcome", "-", "--tokens", &path, "--json"],
        "item,rater,value\n",
    )
    .json();
    assert_eq!(found["sessions"][0]["proportion_correct"], Value::Null);
    assert_eq!(found["changes"].as_array().unwrap().len(), 0);
    let reason = found["reasons"]["changes"].as_str().unwrap();
    assert!(reason.contains("no child has judged sessions"), "{reason}");
    assert_eq!(found["reasons"]["sessions"], "there are no judgements");
    let reasons = &found["sessions"][0]["reasons"];
    for field in ["proportion_correct", "ci", "effective_n"] {
        assert_eq!(reasons[field], "the session has no judgement", "{field}");
    }
    for command in ["agreement", "consensus", "listeners"] {
        let text = run(&[command, "-"], "item,rater,value\n").out;
        assert_eq!(
            text,
            "There are no judgements, so there is nothing to compute.\n"
        );
    }
    let nothing = Written::new(&[("tokens.csv", "token,child,session,phase\n")]);
    let empty = nothing.path("tokens.csv");
    let none = ["outcome", "-", "--tokens", &empty, "--json"];
    let found = run(&none, "item,rater,value\n").json();
    assert_eq!(found["reasons"]["changes"], "there are no sessions");
    let one = "item,rater,value\nt1,L1,1\n";
    let found = run(&["outcome", "-", "--tokens", &path, "--json"], one).json();
    assert_eq!(found["sessions"][0]["proportion_correct"], 1.0);
    assert_eq!(found["sessions"][0]["ci"], Value::Null);
    let reason = found["sessions"][0]["reasons"]["ci"].as_str().unwrap();
    assert!(reason.contains("only one listener"), "{reason}");
    let unheard = &found["sessions"][1]["reasons"]["ci"];
    assert_eq!(unheard, "the session has no judgement");
    for rows in ["item,rater,value\n", one] {
        let found = run(&["precision", "-", "--tokens", &path, "--json"], rows).json();
        let reasons = found["reasons"].as_object().unwrap();
        assert_eq!(reasons.len(), 2, "{reasons:?}");
        assert_eq!(
            reasons["components"],
            "there are no two judgements to compare"
        );
    }
    let two = "item,rater,value\nt1,L1,1\nt2,L1,0\n";
    let found = run(&["outcome", "-", "--tokens", &path, "--json"], two).json();
    assert_eq!(found["changes"][0]["verdict"], "cannot_tell");
    assert_eq!(found["changes"][0]["ci"], Value::Null);
    let sentence = found["changes"][0]["sentence"].as_str().unwrap();
    assert_eq!(
        sentence,
        "From 100% to 0% correct: a fall of 100 points. How sure that is cannot be told: only one listener judged, \
         so nothing is known of how another would judge. Judgements by more listeners would settle it."
    );
}

#[test]
fn files_that_do_not_fit_each_other_are_refused_in_a_sentence() {
    let tokens = "token,child,session,phase\nt1,C01,1,baseline\nt2,C01,1,treatment\n";
    let files = Written::new(&[
        ("two.csv", tokens),
        ("one.csv", "token,child,session,phase\nt1,C01,1,baseline\n"),
    ]);
    let ratings = "item,rater,value\nt1,L1,1\n";
    let refused = run(
        &["outcome", "-", "--tokens", &files.path("two.csv")],
        ratings,
    );
    assert!(
        refused
            .refusal()
            .contains("session 1 of child `C01` has two phases"),
        "{}",
        refused.err
    );
    let refused = run(
        &["outcome", "-", "--tokens", &files.path("one.csv")],
        "item,rater,value\nt9,L1,1\n",
    );
    assert!(refused.refusal().contains("`t9`"), "{}", refused.err);
    let refused = run(
        &["outcome", "-", "--tokens", &files.path("one.csv")],
        "item,rater,value\nt1,L1,maybe\n",
    );
    assert!(refused.refusal().contains("`maybe`"), "{}", refused.err);
    let refused = run(&["outcome", "-", "--tokens", "-"], ratings);
    assert!(
        refused.refusal().contains("standard input is given twice"),
        "{}",
        refused.err
    );
    let refused = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &files.path("one.csv"),
            "--confidence",
            "95",
        ],
        ratings,
    );
    assert!(refused.refusal().contains("0.95"), "{}", refused.err);
}

#[test]
fn a_million_judgements_are_no_trouble() {
    let (mut ratings, mut tokens) = (
        String::from("token,listener,judgement\n"),
        String::from("token,child,session,phase,word\n"),
    );
    for token in 0..100_000 {
        let (child, session) = (token / 400, token / 50 % 8 + 1);
        let phase = if session <= 4 {
            "baseline"
        } else {
            "treatment"
        };
        writeln!(
            tokens,
            "t{token},C{child},{session},{phase},w{}",
            token % 50
        )
        .unwrap();
        for place in 0..10 {
            let listener = (token * 7 + place * 41) % 400;
            writeln!(
                ratings,
                "t{token},L{listener},{}",
                (token / 3 + place * place) % 2
            )
            .unwrap();
        }
    }
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let found = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &files.path("tokens.csv"),
            "--json",
        ],
        &ratings,
    )
    .json();
    assert_eq!(found["sessions"].as_array().unwrap().len(), 2_000);
    let heard: u64 = found["sessions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["judgements"].as_u64().unwrap())
        .sum();
    assert_eq!(heard, 1_000_000);
    assert_eq!(found["changes"].as_array().unwrap().len(), 250);
}
