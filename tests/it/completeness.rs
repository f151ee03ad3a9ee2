//! What a report says beside the scores: unequal word lists, what is missing, and the ear of the session.

use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::Use;
use fairhearing::study::WordList;
use serde_json::json;

use crate::program::Written;
use crate::program::run;
use crate::support::findings;
use crate::support::record;

/// Two sessions before and two after; the later ones hold an easy word more, which the earlier lack.
fn unequal() -> (String, String) {
    let mut tokens = String::from("token,child,session,phase,word\n");
    let mut ratings = String::from("token,listener,judgement\n");
    let words = ["sail", "sun", "soup", "ice"];
    for session in 1..=4 {
        let later = session > 2;
        for (number, word) in words.iter().chain(later.then_some(&"easy")).enumerate() {
            let token = format!("t{session}{number}");
            let phase = if later { "treatment" } else { "baseline" };
            tokens.push_str(&format!("{token},C01,{session},{phase},{word}\n"));
            for listener in 0..5 {
                // Two of four words sound right in every session, and the easy one always.
                let right = *word == "easy" || number + listener % 2 == 0 || number == 1;
                ratings.push_str(&format!("{token},L{listener},{}\n", u8::from(right)));
            }
        }
    }
    (ratings, tokens)
}

#[test]
fn unequal_lists_are_flagged_with_the_change_on_common_words_beside() {
    let (ratings, tokens) = unequal();
    let files = Written::new(&[("tokens.csv", &tokens)]);
    let path = files.path("tokens.csv");
    let found = run(&["outcome", "-", "--tokens", &path, "--json"], &ratings).json();
    let flagged = found["unequal_lists"].as_array().unwrap();
    assert_eq!(flagged.len(), 1);
    assert_eq!(flagged[0]["common"], 4);
    assert_eq!(flagged[0]["sessions"][3]["not_common"], 1);
    // Word 0 by 3 of 5, word 1 by all, the others by none, and one more word by all: (3/5 + 1)/4 = .4, and
    // (3/5 + 1 + 1)/5 = .52.
    let number = |field: &str| flagged[0][field].as_f64().unwrap();
    assert!((number("difference") - 0.12).abs() < 1e-12);
    assert!(number("difference_on_common").abs() < 1e-12);

    let equal = tokens.replace("easy", "sail");
    let files = Written::new(&[("tokens.csv", &equal)]);
    let path = files.path("tokens.csv");
    let found = run(&["outcome", "-", "--tokens", &path, "--json"], &ratings).json();
    assert!(found.get("unequal_lists").is_none());
}

#[test]
fn missing_words_stand_by_phase_with_what_they_could_change() {
    let record = record();
    let found = findings(&record);
    let phases = &found.completeness.phases;
    let names: Vec<_> = phases.iter().map(|phase| phase.phase.as_str()).collect();
    assert_eq!(names, ["baseline", "treatment", "maintenance"]);
    assert_eq!(phases[0].not_recorded["no response"], 1);
    assert_eq!(phases[1].not_recorded.values().sum::<usize>(), 2);
    // C02 lacks one of ten words in one of four baseline sessions: scores p and 10 words give (10p + x)/11 there.
    let bound = found
        .completeness
        .bounds
        .iter()
        .find(|bound| bound.child == "C02")
        .unwrap();
    assert_eq!((bound.missing_from, bound.missing_to), (1, 0));
    let third = found
        .outcome
        .sessions
        .iter()
        .find(|s| s.child == "C02" && s.session == 3)
        .unwrap();
    let p = third.proportion_correct.unwrap();
    let moved = |x: f64| ((10.0 * p + x) / 11.0 - p) / 4.0;
    assert!((bound.all_correct - (bound.difference - moved(1.0))).abs() < 1e-12);
    assert!((bound.all_distorted - (bound.difference - moved(0.0))).abs() < 1e-12);
    assert!((bound.lowest - bound.all_correct).abs() < 1e-12);
    let page = fairhearing::report::page(&found).unwrap();
    assert!(page.contains("If missing words were known"));
}

#[test]
fn an_ear_that_hears_as_the_panel_agrees_and_one_that_grows_kinder_is_told_so_kindly() {
    let nobody = findings(&record());
    assert!(
        nobody.own_ear.is_none(),
        "no word was scored in its session"
    );

    let mut alike = record();
    let majority: std::collections::BTreeMap<String, String> = findings(&alike)
        .consensus
        .items
        .into_iter()
        .map(|item| (item.item, item.majority))
        .collect();
    let mut ties = 0;
    for token in alike
        .tokens
        .iter_mut()
        .filter(|token| token.key.use_ == Use::Scored)
    {
        let said = majority[&token.name].as_str();
        ties += usize::from(said == "tie");
        token.key.clinician_score = Some(if said == "correct" {
            Correct
        } else {
            Distorted
        });
    }
    let found = findings(&alike).own_ear.unwrap();
    // A tie is half agreed, whatever she says.
    let expected = 1.0 - 0.5 * ties as f64 / found.words as f64;
    assert!(
        (found.agreement - expected).abs() < 1e-12,
        "{}",
        found.agreement
    );

    // She calls everything distorted in the first three sessions, everything correct later on.
    let mut kinder = record();
    for token in kinder
        .tokens
        .iter_mut()
        .filter(|token| token.key.use_ == Use::Scored)
    {
        let late = token.key.session.unwrap() > 3;
        token.key.clinician_score = Some(if late { Correct } else { Distorted });
    }
    let found = findings(&kinder).own_ear.unwrap();
    let [low, _] = found.drift_ci.unwrap();
    assert!(
        found.drift_per_month.unwrap() > 0.0 && low > 0.0,
        "{found:?}"
    );
    let first = &found.sessions[0];
    assert!(first.hers == 0.0 && first.panel > 0.0 && first.words == 10);
    assert!(
        found.sentence.contains("grew kinder by about"),
        "{}",
        found.sentence
    );
    let mean: f64 =
        found.sessions.iter().map(|s| s.hers - s.panel).sum::<f64>() / found.sessions.len() as f64;
    assert!((found.leniency - mean).abs() < 1e-12);
}

#[test]
fn each_session_names_the_version_of_the_list_that_it_followed() {
    let mut record = record();
    let words = |except: usize| -> Vec<String> {
        let all = [
            "sail", "sand", "sun", "seal", "soap", "bus", "gas", "house", "mess", "pass",
        ];
        all.iter()
            .take(10 - except)
            .map(|word| (*word).to_owned())
            .collect()
    };
    let list = |version: &str, except| WordList {
        name: "probe".to_owned(),
        version: version.to_owned(),
        words: words(except),
    };
    record.settings.lists = vec![list("1", 0), list("2", 3)];
    record.settings.check().unwrap();
    let missed = record.tokens.iter().position(|token| {
        let key = &token.key;
        let child = key.child.as_ref().map(ToString::to_string);
        child.as_deref() == Some("C01") && key.session == Some(2) && key.word.text() == "bus"
    });
    let missed = record.tokens.remove(missed.unwrap()).name;
    record.presentations.retain(|heard| heard.token != missed);
    let found = findings(&record);
    let of = |child: &str, session| {
        let mut lists = found.lists.iter();
        lists
            .find(|row| row.child == child && row.session == session)
            .unwrap()
    };
    assert_eq!(of("C01", 1).list.as_deref(), Some("probe 1"));
    assert_eq!(
        (&of("C01", 2).list, of("C01", 2).lacks.as_slice()),
        (&None, &["bus".to_owned()][..])
    );
    record.settings.lists[1].version = "1".to_owned();
    let refused = record.settings.check().unwrap_err().to_string();
    assert!(refused.contains("another version"), "{refused}");
}

#[test]
fn conditions_that_alternate_stand_beside_each_other_with_an_interval() {
    let mut tokens = String::from("token,child,session,phase,condition,word\n");
    let mut ratings = String::from("token,listener,judgement\n");
    for session in 1..=8 {
        let free = [2, 3, 6, 7].contains(&session);
        let condition = if free { "free" } else { "cued" };
        for word in 0..12 {
            let token = format!("t{session}{word}");
            tokens.push_str(&format!(
                "{token},C01,{session},treatment,{condition},w{word}\n"
            ));
            for listener in 0..6 {
                // One word in four is right when cued, three in four when free, with a slip here and there.
                let slip = (session + 5 * word + 3 * listener) % 11 == 0;
                let right = (word < if free { 9 } else { 3 }) != slip;
                ratings.push_str(&format!("{token},L{listener},{}\n", u8::from(right)));
            }
        }
    }
    let drawn = r#"{"design":"alternating","pairs":true,"conditions":["cued","free"],
        "cases":{"C01":["cued","free","free","cued","cued","free","free","cued"]}}"#;
    let files = Written::new(&[("tokens.csv", &tokens), ("drawn.json", drawn)]);
    let (path, drawn) = (files.path("tokens.csv"), files.path("drawn.json"));
    let found = run(
        &[
            "outcome",
            "-",
            "--tokens",
            &path,
            "--assignment",
            &drawn,
            "--json",
        ],
        &ratings,
    )
    .json();
    let row = &found["conditions"][0];
    assert_eq!((&row["from"], &row["to"]), (&"cued".into(), &"free".into()));
    let difference = row["difference"].as_f64().unwrap();
    let limit = |place: usize| row["ci"][place].as_f64().unwrap();
    assert!(
        limit(0) < difference && difference < limit(1) && limit(0) > 0.0,
        "{row}"
    );
    // Free was better in each of four pairs: 1 of 2⁴ orders.
    let test = &found["randomisation"];
    assert!(
        (test["p"].as_f64().unwrap() - 1.0 / 16.0).abs() < 1e-12,
        "{test}"
    );
    assert!((test["observed"].as_f64().unwrap() - difference).abs() < 1e-12);
    assert_eq!(found["sessions"][1]["condition"], "free");
}

#[test]
fn words_under_two_conditions_stand_beside_each_other_with_an_interval() {
    let mut tokens = String::from("token,child,session,phase,word\n");
    let mut ratings = String::from("token,listener,judgement\n");
    for child in ["C01", "C02"] {
        for session in 1..=6 {
            let later = session > 3;
            let phase = if later { "treatment" } else { "baseline" };
            for word in 0..12 {
                let token = format!("{child}{session}w{word}");
                tokens.push_str(&format!("{token},{child},{session},{phase},w{word}\n"));
                for listener in 0..6 {
                    // Of six words of a set one is right before, of the free set five after, with a slip here and there.
                    let free = (word < 6) == (child == "C01");
                    let slip = (session + 5 * word + 3 * listener) % 11 == 0;
                    let right = (word % 6 < if later && free { 5 } else { 1 }) != slip;
                    ratings.push_str(&format!("{token},L{listener},{}\n", u8::from(right)));
                }
            }
        }
    }
    let set = |from: usize| {
        (from..from + 6)
            .map(|word| format!("w{word}"))
            .collect::<Vec<_>>()
    };
    let drawn = json!({
        "design": "word_sets",
        "conditions": ["cued", "free"],
        "sets": { "a": set(0), "b": set(6) },
        "cases": { "C01": { "a": "free", "b": "cued" }, "C02": { "a": "cued", "b": "free" } },
    })
    .to_string();
    let files = Written::new(&[("tokens.csv", &tokens), ("drawn.json", &drawn)]);
    let (path, drawn) = (files.path("tokens.csv"), files.path("drawn.json"));
    let given = [
        "outcome",
        "-",
        "--tokens",
        &path,
        "--assignment",
        &drawn,
        "--json",
    ];
    let found = run(&given, &ratings).json();
    let rows = found["word_sets"].as_array().unwrap();
    assert_eq!(rows.len(), 2);
    let mut sum = 0.0;
    for row in rows {
        assert_eq!((&row["from"], &row["to"]), (&"cued".into(), &"free".into()));
        let number = |field: &str| row[field].as_f64().unwrap();
        let limits = |field: &str| [0, 1].map(|place| row[field][place].as_f64().unwrap());
        // The words under one way did not change, those under the other did.
        let [low, high] = limits("change_from_ci");
        assert!(low < 0.0 && 0.0 < high, "{row}");
        assert!(
            limits("change_to_ci")[0] > 0.0 && limits("ci")[0] > 0.0,
            "{row}"
        );
        let difference = number("change_to") - number("change_from");
        assert!((number("difference") - difference).abs() < 1e-12);
        sum += difference;
    }
    let test = &found["randomisation"];
    assert!((test["observed"].as_f64().unwrap() - sum / 2.0).abs() < 1e-12);
    // Free was better for both: 1 of 2² ways of dealing the sets.
    assert!((test["p"].as_f64().unwrap() - 0.25).abs() < 1e-12, "{test}");
}
