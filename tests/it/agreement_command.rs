//! The command `agreement` on the files of people: run as they run it.

use serde_json::Value;

use crate::program::Ran;
use crate::program::run_on_threads;
use crate::reference::Check;

#[test]
fn a_published_example_on_standard_input_gives_the_published_numbers() {
    let check = Check::read("04_gwet_ac1_brennan_prediger.json", "gwet_raw4raters");
    let found = json(&run(&["-", "--json"], &check.text()));
    for (field, path) in [
        ("gwet_ac1", "ac1"),
        ("fleiss_kappa", "fleiss_kappa"),
        ("brennan_prediger", "brennan_prediger"),
        ("conger_kappa", "conger_kappa"),
    ] {
        check.holds(
            &format!("{path}.value"),
            found[field]["estimate"].as_f64().unwrap(),
        );
        let ci = [
            found[field]["ci"][0].as_f64().unwrap(),
            found[field]["ci"][1].as_f64().unwrap(),
        ];
        check.holds_interval(&format!("{path}.ci95"), ci);
    }
    check.holds(
        "alpha.value",
        found["krippendorff_alpha"]["estimate"].as_f64().unwrap(),
    );
    assert_eq!(found["items"], 12);
    assert_eq!(found["complete"], false);
    assert_eq!(found["icc"], Value::Null);
    assert!(found["reasons"]["icc"].is_string());
}

#[test]
fn an_interval_scale_gives_the_six_intraclass_correlations() {
    let check = Check::read("05_icc.json", "icc_sf1979");
    let found = json(&run(&["-", "--json", "--scale", "interval"], &check.text()));
    check.holds(
        "forms.ICC(2,1).icc",
        found["icc"]["icc2"]["estimate"].as_f64().unwrap(),
    );
    check.holds(
        "forms.ICC(3,k).F",
        found["icc"]["icc3k"]["f"].as_f64().unwrap(),
    );
    assert!(
        found["icc"]["icc2"]["form"]
            .as_str()
            .unwrap()
            .contains("absolute agreement")
    );
    assert!(found["cohen_kappa"][0]["weighted"]["quadratic"]["estimate"].is_number());
}

#[test]
fn a_declared_scale_counts_categories_that_nobody_used() {
    let check = Check::read("00_edge_cases.json", "edge_one_category");
    let text = check.text();
    let value = text.lines().nth(1).unwrap().split(',').nth(2).unwrap();
    let categories = format!("{value},other");
    let found = json(&run(&["-", "--json", "--categories", &categories], &text));
    assert_eq!(found["gwet_ac1"]["estimate"], 1.0);
    assert_eq!(found["brennan_prediger"]["estimate"], 1.0);
    for field in ["fleiss_kappa", "krippendorff_alpha", "conger_kappa"] {
        assert_eq!(found[field]["estimate"], Value::Null);
        assert!(
            found["reasons"][field].as_str().unwrap().contains("0/0"),
            "{field}"
        );
    }
    assert_eq!(found["icc"], Value::Null);
    assert_eq!(found["percent_agreement"]["estimate"], 1.0);
    assert!(found["percent_agreement"]["ci"][0].as_f64().unwrap() < 1.0);
}

#[test]
fn every_null_has_a_reason_beside_it() {
    let files = [
        "item,rater,value\n",
        "item,rater,value\nt1,L1,correct\n",
        "item,rater,value\nt1,L1,correct\nt1,L2,correct\n",
        "item,rater,value\nt1,L1,correct\nt1,L2,distorted\n",
        "item,rater,value\nt1,L1,correct\nt2,L2,distorted\n",
        "item,rater,value\nt1,L1,correct\nt2,L1,distorted\nt3,L1,correct\n",
        "item,rater,value\nt1,L1,a\nt1,L2,a\nt2,L1,b\nt2,L2,b\n",
        "item,rater,value\nt1,L1,1\nt1,L2,2\nt1,L3,3\nt2,L1,1\nt2,L2,2\nt2,L3,3\n",
    ];
    for file in files {
        for scale in ["nominal", "interval"] {
            if scale == "interval" && !file.contains(",1\n") {
                continue;
            }
            let out = run(&["-", "--json", "--scale", scale], file);
            let found = json(&out);
            assert_reasons(&found, &mut Vec::new(), &found, file);
            assert!(!out.out.contains("NaN"));
            assert_eq!(run(&["-", "--scale", scale], file).status, 0);
        }
    }
}

#[test]
fn without_judgements_that_alone_is_the_reason() {
    for file in [
        "item,rater,value\n",
        "item,rater,value\nt1,L1,\n",
        "item,rater,value,presentation\nt1,L1,1,check\n",
    ] {
        for scale in ["nominal", "ordinal", "interval"] {
            let found = json(&run(&["-", "--json", "--scale", scale], file));
            assert_eq!(found["values"], 0);
            let reasons = found["reasons"].as_object().unwrap();
            assert!(reasons.contains_key("krippendorff_alpha"));
            for (field, reason) in reasons {
                assert_eq!(reason, "there are no judgements", "{field} of\n{file}");
            }
        }
    }
}

#[test]
fn one_judgement_lacks_another_and_no_scale_would_mend_that() {
    for (scale, value) in [("nominal", "correct"), ("ordinal", "1"), ("interval", "1")] {
        let file = format!("item,rater,value\nt1,L1,{value}\n");
        let found = json(&run(&["-", "--json", "--scale", scale], &file));
        for (field, reason) in found["reasons"].as_object().unwrap() {
            let reason = reason.as_str().unwrap();
            assert!(!reason.contains("scale"), "{field}: {reason}");
        }
        assert_eq!(
            found["reasons"]["gwet_ac1"],
            "no item was judged by two raters"
        );
    }
}

/// Walks an object: each `null` needs its path, or that of an object around it, among the reasons beside it or at the top.
fn assert_reasons(value: &Value, path: &mut Vec<String>, top: &Value, file: &str) {
    match value {
        Value::Null => {
            let known = (1..=path.len()).any(|n| top["reasons"][path[..n].join(".")].is_string());
            assert!(
                known,
                "no reason for {path:?} of\n{file}\n{}",
                top["reasons"]
            );
        }
        Value::Object(fields) => {
            for (name, inner) in fields
                .iter()
                .filter(|(name, _)| *name != "reasons" && *name != "strength")
            {
                path.push(name.clone());
                assert_reasons(inner, path, top, file);
                path.pop();
            }
        }
        Value::Array(entries) if entries.iter().all(Value::is_object) => {
            for entry in entries {
                let mut beside = entry.clone();
                for (field, reason) in top["reasons"].as_object().unwrap() {
                    if let Some(inner) = field.strip_prefix("cohen_kappa.") {
                        beside["reasons"][inner] = reason.clone();
                    }
                }
                let mut inside = Vec::new();
                if beside["reasons"]["estimate"].is_string() {
                    continue;
                }
                assert_reasons(entry, &mut inside, &beside, file);
            }
        }
        _ => {}
    }
}

#[test]
fn where_few_tokens_differ_the_intervals_are_said_to_be_too_narrow() {
    // Forty tokens before five raters. By hand: one in five is less than a quarter, two in five are more.
    let with_distorted = |distorted: &[usize]| {
        let mut rows = "item,rater,value\n".to_owned();
        for item in 0..40 {
            for rater in 0..5 {
                let heard = rater < distorted.get(item).copied().unwrap_or(0);
                let value = if heard { "distorted" } else { "correct" };
                rows += &format!("t{item},L{rater},{value}\n");
            }
        }
        json(&run(&["-", "--json"], &rows))["reasons"].clone()
    };
    let few = with_distorted(&[1, 1, 1, 2, 5, 4]);
    for field in ["krippendorff_alpha.narrow", "fleiss_kappa.narrow"] {
        let why = few[field].as_str().unwrap();
        assert!(why.contains("on 3 items only"), "{why}");
    }
    let ten = with_distorted(&[2, 2, 5, 4, 3, 3, 5, 5, 2, 4]);
    assert_eq!(ten["krippendorff_alpha.narrow"], Value::Null);
    assert_eq!(ten["fleiss_kappa.narrow"], Value::Null);
}

#[test]
fn tokens_add_agreement_by_phase_and_by_child_on_the_same_scale() {
    let folder = tempfile::tempdir().unwrap();
    let tokens = folder.path().join("tokens.csv");
    std::fs::write(
        &tokens,
        "token,child,session,phase\nt1,C01,1,baseline\nt2,C02,1,treatment\n",
    )
    .unwrap();
    let ratings =
        "item,rater,value\nt1,L1,correct\nt1,L2,correct\nt2,L1,distorted\nt2,L2,correct\n";
    let found = json(&run(
        &["-", "--json", "--tokens", tokens.to_str().unwrap()],
        ratings,
    ));
    assert_eq!(
        found["by_phase"]["baseline"]["percent_agreement"]["estimate"],
        1.0
    );
    assert_eq!(
        found["by_child"]["C02"]["percent_agreement"]["estimate"],
        0.0
    );
    assert_eq!(found["by_child"]["C01"]["categories"], found["categories"]);

    let more = format!("{ratings}t9,L1,correct\n");
    let out = run(&["-", "--tokens", tokens.to_str().unwrap()], &more);
    assert_eq!(out.status, 2);
    assert!(
        said(&out).contains("-: the token `t9` was judged and is not in the table of tokens"),
        "{}",
        said(&out)
    );
}

#[test]
fn what_is_wrong_with_a_file_goes_to_standard_error_with_exit_status_2() {
    let semicolons = run(&["-", "--json"], "item;rater;value\nt1;L1;0,5\n");
    assert_eq!(semicolons.status, 2);
    assert!(semicolons.out.is_empty());
    assert!(
        said(&semicolons).starts_with("-:1: is divided by semicolons"),
        "{}",
        said(&semicolons)
    );

    let comma = run(
        &["-", "--scale", "interval"],
        "item,rater,value\nt1,L1,\"0,5\"\nt1,L2,1\n",
    );
    assert_eq!(comma.status, 2);
    assert!(
        said(&comma).contains("write a decimal point instead of the comma: 0.5"),
        "{}",
        said(&comma)
    );

    let commas = "item,rater,value\nt1,L1,\"0,5\"\nt1,L2,1\n";
    let nominal = run(&["-"], commas);
    assert_eq!(nominal.status, 2);
    assert!(
        said(&nominal).contains("write a decimal point instead of the comma: 0.5"),
        "{}",
        said(&nominal)
    );

    let undeclared = run(
        &["-", "--categories", "yes,no"],
        "item,rater,value\nt1,L1,maybe\n",
    );
    assert!(
        said(&undeclared).contains("`maybe` is none of the declared categories"),
        "{}",
        said(&undeclared)
    );

    let words = run(
        &["-", "--scale", "ordinal"],
        "item,rater,value\nt1,L1,low\nt1,L2,high\n",
    );
    assert!(said(&words).contains("--categories"), "{}", said(&words));

    let missing = run(&["nowhere.csv"], "");
    assert_eq!(missing.status, 2);
    assert!(
        said(&missing).contains("nowhere.csv: is not there; check the path"),
        "{}",
        said(&missing)
    );

    let level = run(&["-", "--confidence", "95"], "");
    assert_eq!(level.status, 2);
    assert!(
        said(&level).contains("did you mean 0.95?"),
        "{}",
        said(&level)
    );
}

#[test]
fn a_file_from_a_spreadsheet_reads_as_a_plain_one_does() {
    let plain = "item,rater,value\nt1,L1,1\nt1,L2,1\nt2,L1,0\nt2,L2,1\nt3,L1,0\nt3,L2,0\n";
    let spreadsheet = format!("\u{feff}{}", plain.replace('\n', "\r\n"));
    assert_eq!(
        run(&["-", "--json"], plain).out,
        run(&["-", "--json"], &spreadsheet).out
    );
}

#[test]
fn neither_the_order_of_rows_nor_the_number_of_threads_changes_a_digit() {
    let check = Check::read("03_krippendorff_alpha.json", "alpha_hk2007");
    let text = check.text();
    let (header, rows) = text.split_once('\n').unwrap();
    let mut turned: Vec<&str> = rows.lines().collect();
    turned.reverse();
    let turned = format!("{header}\n{}\n", turned.join("\n"));
    let one = run_on_threads("1", &["agreement", "-", "--json"], &text);
    assert_eq!(
        one.out,
        run_on_threads("2", &["agreement", "-", "--json"], &text).out
    );
    assert_eq!(
        one.out,
        run_on_threads("2", &["agreement", "-", "--json"], &turned).out
    );
}

#[test]
fn a_million_judgements_are_read_and_measured() {
    let mut text = "item,rater,value\n".to_owned();
    for item in 0..100_000_u32 {
        for place in 0..10_u32 {
            let rater = (item * 7 + place * 11) % 120;
            let value = if (item / 3 + place * place) % 5 < 2 {
                "correct"
            } else {
                "distorted"
            };
            text.push_str(&format!("t{item},L{rater},{value}\n"));
        }
    }
    let found = json(&run(&["-", "--json"], &text));
    assert_eq!(found["values"], 1_000_000);
    assert_eq!(found["raters"], 120);
    assert!(found["krippendorff_alpha"]["ci_both"].is_array());
}

fn run(arguments: &[&str], input: &str) -> Ran {
    crate::program::run(&[&["agreement"], arguments].concat(), input)
}

#[track_caller]
fn json(ran: &Ran) -> Value {
    ran.json()
}

fn said(ran: &Ran) -> &str {
    &ran.err
}
