//! Reading judgements, tokens, the panel and known answers: what people's files look like.

use fairhearing::exchange::read_answer_key;
use fairhearing::exchange::read_panel;
use fairhearing::exchange::read_ratings;
use fairhearing::exchange::read_tokens;
use fairhearing::study::PresentationKind;

#[track_caller]
fn refused(text: &[u8], sentences: &[&str]) {
    let problems = read_ratings("r.csv", text).unwrap_err().to_string();
    for sentence in sentences {
        assert!(
            problems.contains(sentence),
            "no `{sentence}` in:\n{problems}"
        );
    }
}

#[test]
fn both_sets_of_column_names_are_read_in_any_order_with_unknown_columns_left_alone() {
    let plain = read_ratings("-", "item,rater,value\nt1,L1,correct\n".as_bytes()).unwrap();
    let trade = "\u{feff}note,judgement,listener,token\r\nx,correct,L1,t1\r\n";
    let trade = read_ratings("-", trade.as_bytes()).unwrap();
    for ratings in [plain, trade] {
        assert_eq!(ratings.items.names(), ["t1"]);
        assert_eq!(ratings.raters.names(), ["L1"]);
        assert_eq!(ratings.values.names(), ["correct"]);
        assert_eq!(ratings.rows[0].kind, PresentationKind::Main);
    }
}

#[test]
fn an_empty_value_is_a_missing_judgement() {
    let ratings = read_ratings("-", "item,rater,value\nt1,L1,\nt1,L2,1\n".as_bytes()).unwrap();
    assert_eq!((ratings.rows.len(), ratings.missing), (1, 1));
}

#[test]
fn the_same_key_twice_names_both_lines_and_repeats_each_count() {
    let twice = "item,rater,value\nt1,L1,1\nt2,L1,1\nt1,L1,0\n";
    refused(
        twice.as_bytes(),
        &["r.csv:4: `t1` was already judged by `L1` as main in line 2"],
    );
    let spaced = "\u{feff}item,rater,value\nt1,L1,1\n\n\nt2,\"L\n1\",1\n\nt1,L1,0";
    for broken in ["\n", "\r\n", "\r"] {
        refused(
            spaced.replace('\n', broken).as_bytes(),
            &["r.csv:8: `t1` was already judged by `L1` as main in line 2"],
        );
    }
    let repeats = "item,rater,value,presentation\nt1,L1,1,main\nt1,L1,1,repeat\nt1,L1,0,repeat\n";
    assert_eq!(read_ratings("-", repeats.as_bytes()).unwrap().rows.len(), 3);
}

#[test]
fn what_spreadsheets_get_wrong_is_explained() {
    refused(
        b"item;rater;value\nt1;L1;0,5\n",
        &["r.csv:1: is divided by semicolons", "divided by commas"],
    );
    refused(b"item\trater\tvalue\n", &["divided by tabs"]);
    refused(
        b"\xff\xfei\0t\0",
        &["is not in UTF-8", "save the file as CSV in UTF-8"],
    );
    refused(
        b"item,rater,value\nM\xe4rz,L1,1\n",
        &["r.csv:2: holds letters that are not in UTF-8"],
    );
    refused(b"", &["r.csv: is empty"]);
    refused(
        b"item,value\n",
        &["r.csv:1: has no column `rater` or `listener` (found: item, value)"],
    );
    refused(
        b"item,rater,value,item\n",
        &["r.csv:1:item: the header names this column twice"],
    );
    refused(
        b"item,rater,value,rt_ms\nt1,L1,1,\"812,5\"\n",
        &["r.csv:2:rt_ms", "decimal point instead of the comma: 812.5"],
    );
}

#[test]
fn all_problems_are_listed_at_once() {
    let text = "item,rater,value,presentation,order\nt1,L1,1,wamr-up,1\n,L1,1,main,2\nt3,L1,1,main\nt4,L1,1,main,x\n";
    refused(
        text.as_bytes(),
        &[
            "r.csv:2:presentation: this is no kind of presentation",
            "r.csv:3:item: is empty",
            "r.csv:4: has 4 values where the header names 5 columns",
            "r.csv:5:order: `x` is no whole number",
        ],
    );
}

#[test]
fn a_flood_of_problems_is_cut_and_counted() {
    let mut text = "item,rater,value\n".to_owned();
    text.extend((0..1000).map(|_| ",L1,1\n"));
    let problems = read_ratings("r.csv", text.as_bytes()).unwrap_err();
    assert_eq!(problems.iter().count(), 51);
    assert!(
        problems
            .to_string()
            .ends_with("has 950 more such problems; mend the ones above first")
    );
}

#[test]
fn a_header_alone_is_an_empty_table() {
    assert!(
        read_ratings("-", "item,rater,value".as_bytes())
            .unwrap()
            .rows
            .is_empty()
    );
}

#[test]
fn tokens_say_child_session_and_phase_and_leave_checks_aside() {
    let text = "token,child,session,phase,word,treated,use,date\nt1,C01,1,baseline,sail,yes,,2026-03-09\nk1,,,,sun,,check,\n";
    let table = read_tokens("t.csv", text.as_bytes()).unwrap();
    assert_eq!(table.tokens.names(), ["t1"]);
    assert_eq!(table.unscored.names(), ["k1"]);
    assert_eq!(table.rows[0].treated, Some(true));
    assert_eq!(table.rows[0].session, 1);
}

#[test]
fn tokens_that_lack_what_they_need_are_refused_with_every_reason() {
    let text = "token,child,session,phase,date\nt1,,0,baseline,9.3.2026\nt2,C01,1,baseline,\nt2,C01,1,baseline,\n";
    let problems = read_tokens("t.csv", text.as_bytes())
        .unwrap_err()
        .to_string();
    for part in [
        "t.csv:2:child: is empty",
        "t.csv:2:session: `0` is no session number",
        "t.csv:2:date: `9.3.2026` is no date",
        "t.csv:4:token: `t2` was already in line 3",
    ] {
        assert!(problems.contains(part), "no `{part}` in:\n{problems}");
    }
}

#[test]
fn a_panel_says_who_was_kept_and_with_which_weight() {
    let panel = read_panel(
        "p.csv",
        "listener,kept,weight\nL1,true,0.5\nL2,no,\n".as_bytes(),
    )
    .unwrap();
    assert!(panel.rows[0].kept && !panel.rows[1].kept);
    assert_eq!(panel.rows[0].weight, Some(0.5));
    let text = "listener,kept,weight\nL1,maybe,\"0,5\"\nL1,,\n";
    let problems = read_panel("p.csv", text.as_bytes())
        .unwrap_err()
        .to_string();
    assert!(
        problems.contains("p.csv:2:kept: `maybe` is neither true nor false"),
        "{problems}"
    );
    assert!(
        problems.contains("p.csv:2:weight: `0,5` is no weight from 0 up; write a decimal point"),
        "{problems}"
    );
    assert!(
        problems.contains("p.csv:3:listener: `L1` was already in line 2"),
        "{problems}"
    );
}

#[test]
fn a_check_item_has_one_answer() {
    let key = read_answer_key(
        "k.csv",
        "item,answer\nk1,correct\nk2,distorted\n".as_bytes(),
    )
    .unwrap();
    assert_eq!(key["k2"], "distorted");
    assert!(read_answer_key("k.csv", "item,answer\nk1,1\nk1,0\n".as_bytes()).is_err());
}
