//! The commands about links, as a script reads them: their one JSON object, and the files that are left as they were.

use serde_json::Value;

use crate::program::run;
use crate::support::Study;

fn command(study: &Study, arguments: &[&str]) -> Value {
    let folder = study.folder();
    let common = [
        "--workspace",
        folder.to_str().unwrap(),
        "--round",
        "spring",
        "--json",
    ];
    run(&[arguments, common.as_slice()].concat(), "").json()
}

/// The names of an object's fields, in the order of the alphabet.
fn fields(object: &Value) -> Vec<&str> {
    object
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

#[track_caller]
fn is_receipt(value: &Value) {
    assert!(
        value.as_str().is_some_and(|text| text.len() >= 20),
        "{value}"
    );
}

#[test]
fn invite_gives_links_with_numbers_codes_and_addresses() {
    let study = Study::with().listeners(2).sealed();
    let wanted = [
        "invite",
        "--listeners",
        "2",
        "--public-url",
        "https://rating.example/",
    ];
    let made = command(&study, &wanted);
    assert_eq!(fields(&made), ["links", "open_link", "receipt", "round"]);
    assert_eq!(
        (&made["round"], &made["open_link"]),
        (&"spring".into(), &Value::Null)
    );
    is_receipt(&made["receipt"]);
    let links = made["links"].as_array().unwrap();
    let numbers: Vec<_> = links.iter().map(|link| link["number"].as_u64()).collect();
    assert_eq!(numbers, [Some(3), Some(4)]);
    for link in links {
        assert_eq!(fields(link), ["listener", "number", "url"]);
        assert!(
            link["listener"].as_str().unwrap().starts_with("L-"),
            "{link}"
        );
        // 128 bits are 22 signs of base 64, or 26 of base 32.
        let secret = link["url"]
            .as_str()
            .unwrap()
            .strip_prefix("https://rating.example/l/");
        assert!(secret.is_some_and(|secret| secret.len() >= 22), "{link}");
    }

    let open = command(&study, &["invite", "--open", "5"]);
    assert_eq!(open["links"], Value::Array(Vec::new()));
    assert_eq!(fields(&open["open_link"]), ["cap", "number", "url"]);
    assert_eq!(open["open_link"]["cap"], 5);
}

#[test]
fn taking_back_pausing_and_going_on_name_the_round_and_give_a_receipt() {
    let study = Study::with().listeners(2).sealed();
    let revoked = command(&study, &["revoke", "--link", "2"]);
    assert_eq!(revoked["round"], "spring");
    is_receipt(&revoked["receipt"]);
    for (act, paused) in [("pause", true), ("resume", false)] {
        let said = command(&study, &[act]);
        assert_eq!(fields(&said), ["paused", "receipt", "round"]);
        assert_eq!(
            (&said["round"], &said["paused"]),
            (&"spring".into(), &paused.into())
        );
        is_receipt(&said["receipt"]);
    }
    let folder = study.folder();
    let again = run(
        &[
            "resume",
            "--workspace",
            folder.to_str().unwrap(),
            "--round",
            "spring",
            "--json",
        ],
        "",
    );
    assert_eq!((again.status, again.out.as_str()), (2, ""));
}
