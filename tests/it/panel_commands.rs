//! The commands `consensus` and `listeners` on the files of people.

use serde_json::Value;

use crate::program;
use crate::program::Ran;
use crate::program::Written;
use crate::program::run_on_threads;
use crate::reference::Check;

#[test]
fn maximum_likelihood_on_standard_input_gives_the_reference_classes() {
    let check = Check::read("10_dawid_skene.json", "ds_binary_sim");
    let found = json(&run(
        "consensus",
        &["-", "--json", "--prior", "0"],
        &check.text(),
    ));
    check.holds("class_marginals.1", number(&found["prevalence"]));
    assert!((number(&found["log_likelihood"]) - check.number("loglik")).abs() < 1e-5);
    assert_eq!(found["converged"], true);
    for rater in found["raters"].as_array().unwrap() {
        let name = rater["rater"].as_str().unwrap();
        check.holds(
            &format!("error_rates.{name}.1.1"),
            number(&rater["sensitivity"]),
        );
        check.holds(
            &format!("error_rates.{name}.0.0"),
            number(&rater["specificity"]),
        );
    }
    for item in found["items"].as_array().unwrap() {
        let name = item["item"].as_str().unwrap();
        check.holds(&format!("posterior.{name}.1"), number(&item["posterior"]));
    }
}

#[test]
fn each_item_has_its_share_with_wilsons_interval_and_a_tie_is_named() {
    let text =
        "token,listener,judgement\nt1,L1,correct\nt1,L2,distorted\nt2,L1,correct\nt2,L2,correct\n";
    let found = json(&run("consensus", &["-", "--json"], text));
    assert_eq!(found["items"][0]["majority"], "tie");
    assert_eq!(found["items"][0]["contested"], true);
    assert_eq!(found["items"][1]["majority"], "correct");
    // 2 of 2: Wilson's lower limit is n/(n + z²)
    let low = 2.0 / (2.0 + 1.959_963_985_f64.powi(2));
    assert!((number(&found["items"][1]["ci"][0]) - low).abs() < 1e-9);
    assert_eq!(found["contested"][0], "t1");
}

#[test]
fn the_positive_value_is_found_or_asked_for() {
    let named = "item,rater,value\nt1,L1,yes\nt1,L2,no\n";
    let refused = run("consensus", &["-"], named);
    assert_eq!(refused.status, 2);
    assert!(said(&refused).contains("--positive"), "{}", said(&refused));
    let found = json(&run(
        "consensus",
        &["-", "--json", "--positive", "yes"],
        named,
    ));
    assert_eq!(found["items"][0]["positive"], 1);
    let all_distorted = "item,rater,value\nt1,L1,distorted\nt1,L2,distorted\n";
    let found = json(&run("consensus", &["-", "--json"], all_distorted));
    assert_eq!(found["items"][0]["majority"], "distorted");
    let three = "item,rater,value\nt1,L1,1\nt1,L2,0\nt2,L1,2\n";
    assert_eq!(run("consensus", &["-"], three).status, 2);
}

#[test]
fn a_file_without_judgements_gives_empty_lists_and_reasons() {
    for command in ["consensus", "listeners"] {
        let out = run(command, &["-", "--json"], "item,rater,value\n");
        let found = json(&out);
        assert_eq!(
            found[if command == "consensus" {
                "items"
            } else {
                "listeners"
            }],
            Value::Array(vec![])
        );
        assert!(!found["reasons"].as_object().unwrap().is_empty());
        let field = if command == "consensus" {
            "items"
        } else {
            "listeners"
        };
        assert_eq!(found["reasons"][field], "there are no judgements");
        assert_eq!(run(command, &["-"], "item,rater,value\n").status, 0);
        let one = run(
            command,
            &["-", "--json"],
            "item,rater,value\nt1,L1,correct\n",
        );
        assert!(json(&one)["reasons"].is_object());
        if command == "listeners" {
            let alone = &json(&one)["listeners"][0]["reasons"]["rest_of_panel"];
            assert_eq!(alone, "one rater alone has nobody to agree with");
        }
    }
}

#[test]
fn only_listeners_of_the_panel_make_the_consensus() {
    let panel = Written::new(&[("panel.csv", "listener,kept,weight\nL1,true,1\nL2,false,\n")]);
    let panel = panel.path("panel.csv");
    let text = "item,rater,value\nt1,L1,correct\nt1,L2,distorted\n";
    let found = json(&run("consensus", &["-", "--json", "--panel", &panel], text));
    assert_eq!(found["items"][0]["proportion"], 1.0);
    assert_eq!(found["raters"].as_array().unwrap().len(), 1);
    let more = format!("{text}t1,L3,correct\n");
    let out = run("consensus", &["-", "--panel", &panel], &more);
    assert_eq!(out.status, 2);
    assert!(
        said(&out).contains("says nothing of the listener `L3`"),
        "{}",
        said(&out)
    );
}

const HEARD: &str = "token,listener,judgement,presentation,order,rt_ms\n\
    k1,L1,correct,check,1,800\nk2,L1,distorted,check,2,700\nt1,L1,correct,main,3,900\nt2,L1,distorted,main,4,1100\n\
    t1,L1,correct,repeat,5,650\n\
    k1,L2,distorted,check,1,90\nk2,L2,correct,check,2,80\nt1,L2,correct,main,3,70\nt2,L2,correct,main,4,60\n\
    t1,L2,distorted,repeat,5,95\n";

#[test]
fn a_listener_is_known_by_checks_repeats_times_and_the_rest_and_left_out_with_a_reason() {
    let key = Written::new(&[("key.csv", "item,answer\nk1,correct\nk2,distorted\n")]);
    let key = key.path("key.csv");
    let rules = Written::new(&[(
        "rules.toml",
        "careful_accuracy = 0.95\n[[rules]]\nrule = \"min-checks-right\"\nright = 2\n[[rules]]\nrule = \"min-median-response-time\"\nms = 200\n",
    )]);
    let rules = rules.path("rules.toml");
    let found = json(&run(
        "listeners",
        &["-", "--json", "--key", &key, "--rules", &rules],
        HEARD,
    ));
    let [good, bad] = [&found["listeners"][0], &found["listeners"][1]];
    assert_eq!(good["kept"], true);
    assert_eq!(good["median_rt_ms"], 1000.0);
    assert_eq!(good["check"]["hits"], 1);
    assert_eq!(good["repeat"]["agreement"], 1.0);
    // log-linear by hand: 1.5/2 and .5/2, so d′ = 2·Φ⁻¹(.75), and Φ⁻¹(.75) = .6745 in any table
    assert!((number(&good["check"]["d_prime"]) - 2.0 * 0.674_489_750_196).abs() < 1e-9);
    assert_eq!(bad["kept"], false);
    assert_eq!(
        bad["why"][0],
        "0 of 2 check words right; the rule asks for at least 2 check words right"
    );
    assert_eq!(
        bad["why"][1],
        "a median response time of 65 ms; the rule asks for a median response time of at least 200 ms"
    );
    // 2 of 2 by guessing: a quarter; a careful listener fails with 1 − .95²
    assert!((number(&found["rules"][0]["guesser_passes"]) - 0.25).abs() < 1e-12);
    assert!((number(&found["rules"][0]["careful_listener_fails"]) - 0.0975).abs() < 1e-12);
    assert_eq!(found["rules"][1]["guesser_passes"], Value::Null);
    assert!(found["rules"][1]["reasons"]["guesser_passes"].is_string());
}

#[test]
fn without_key_order_or_repeats_each_null_has_its_reason() {
    let text = "item,rater,value\nt1,L1,1\nt1,L2,0\n";
    let found = json(&run("listeners", &["-", "--json"], text));
    let one = &found["listeners"][0];
    assert_eq!(one["kept"], true);
    for field in ["check", "repeat", "drift", "median_rt_ms"] {
        assert!(
            one["reasons"][field].is_string(),
            "{field}: {}",
            one["reasons"]
        );
    }
}

#[test]
fn a_wrong_key_or_rule_is_explained() {
    let key = Written::new(&[("key.csv", "item,answer\nk1,correct\n")]);
    let key = key.path("key.csv");
    let out = run("listeners", &["-", "--key", &key], HEARD);
    assert_eq!(out.status, 2);
    assert!(
        said(&out).contains("the check item `k2` has no answer in the key"),
        "{}",
        said(&out)
    );

    let unknown = Written::new(&[("unknown.toml", "[[rules]]\nrule = \"min-hopes\"\n")]);
    let unknown = unknown.path("unknown.toml");
    let out = run("listeners", &["-", "--rules", &unknown], HEARD);
    assert_eq!(out.status, 2);
    assert!(said(&out).contains("min-check-accuracy"), "{}", said(&out));

    let percent = Written::new(&[(
        "percent.toml",
        "[[rules]]\nrule = \"min-check-accuracy\"\nshare = 80\n",
    )]);
    let percent = percent.path("percent.toml");
    let out = run("listeners", &["-", "--rules", &percent], HEARD);
    assert!(
        said(&out).contains("`share` is 80; write a share from 0 to 1"),
        "{}",
        said(&out)
    );

    let out = run("listeners", &["-", "--key", "-"], HEARD);
    assert!(
        said(&out).contains("standard input is given twice"),
        "{}",
        said(&out)
    );
}

#[test]
fn a_million_judgements_make_a_consensus_and_know_their_listeners_on_any_number_of_threads() {
    let mut text = "token,listener,judgement,presentation,order\n".to_owned();
    for item in 0..100_000_u32 {
        for place in 0..10_u32 {
            let listener = (item * 7 + place * 11) % 120;
            let wrong = (item * 31 + place * 17) % 10 == 0;
            let value = if (item % 3 == 0) == wrong {
                "distorted"
            } else {
                "correct"
            };
            text.push_str(&format!("t{item},L{listener},{value},main,{item}\n"));
        }
    }
    let found = json(&run("consensus", &["-", "--json"], &text));
    assert_eq!(found["items"].as_array().unwrap().len(), 100_000);
    assert_eq!(found["converged"], true);
    let one = run_on_threads("1", &["listeners", "-", "--json"], &text);
    assert_eq!(json(&one)["listeners"].as_array().unwrap().len(), 120);
    assert_eq!(
        one.out,
        run_on_threads("2", &["listeners", "-", "--json"], &text).out
    );
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn run(command: &str, arguments: &[&str], input: &str) -> Ran {
    program::run(&[&[command], arguments].concat(), input)
}

#[track_caller]
fn json(ran: &Ran) -> Value {
    ran.json()
}

fn said(ran: &Ran) -> &str {
    &ran.err
}
