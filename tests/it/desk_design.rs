//! A round designed at the desk: nothing typed is lost, the forecast is that of the commands, the seal is the command's.

use std::fs;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::seal::Canonical;
use fairhearing::store::Reading;
use fairhearing::store::RoundRow;
use fairhearing::study::ChildCode;
use fairhearing::study::Plan;
use fairhearing::study::RoundName;
use serde_json::Value;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

/// A plan with something in every field, as a file. The screening is what the form's order of rules gives.
const FILE: &str = include_str!("../fixtures/full_plan.toml");

/// The same plan as it is filled into the form.
const FORM: &[(&str, &str)] = &[
    ("round", "spring"),
    ("children", "C01"),
    ("children", "C03"),
    ("phases", "baseline"),
    ("phases", "treatment"),
    ("attempts", "last"),
    ("sample-sessions", "2"),
    ("sample-words", "4"),
    ("invited", "6"),
    ("open", "4"),
    ("link-days", "14"),
    ("kind", "expert"),
    ("judgements", "3"),
    ("sittings", "2"),
    ("bars", "2 C03"),
    ("tokens", "12"),
    ("repeats", "25"),
    ("repeat-distance", "3"),
    ("checks", "4"),
    ("practice", "2"),
    ("warm-up", "1"),
    ("replays", "2"),
    ("give-back", "45"),
    ("practice-pass", "50"),
    ("practice-tries", "2"),
    ("practice-failed", "let-go"),
    ("practice-again", "12"),
    ("rest-every", "10"),
    ("words-a-day", "100"),
    ("minutes-a-day", "30"),
    ("first-sound", "require"),
    ("headphones", "record"),
    ("ask", "age"),
    ("ask", "hearing"),
    (
        "own-questions",
        "region | Where did you grow up? | On the coast | Inland",
    ),
    ("contrast-from", "baseline"),
    ("contrast-to", "treatment"),
    ("contrast-last", "2"),
    ("contrast-words", "treated"),
    ("smallest-change", "12.5"),
    ("careful", "85"),
    ("rule-checks-right", "3"),
    ("rule-check-accuracy", "75"),
    ("rule-repeats", "60"),
    ("rule-one-answer", "95"),
    ("rule-rest-of-panel", "55"),
    ("rule-median-time", "200"),
    ("rule-too-fast", "150"),
    ("rule-too-fast-share", "20"),
    ("rule-judgements", "5"),
    ("live", "yes"),
    ("live-after", "3"),
    ("confidence", "90"),
    ("seed", "7"),
    ("text-consent-version", "2"),
    (
        "text-consent",
        "I listen of my own will.\r\n\r\nI may stop.",
    ),
    ("text-instruction", "Judge the s sound alone."),
    ("text-correct", "sounds right"),
    ("text-distorted", "sounds off"),
    ("text-thanks", "Thank you."),
    ("text-assent", "You may stop."),
    ("text-payment", "You are paid all the same."),
];

/// A study with enough of everything for that plan.
fn study() -> Study {
    let study = Study::with()
        .children(3)
        .sessions(4)
        .words(6)
        .checks(4)
        .practice(2)
        .imported();
    account(&study, "Ada", "researcher", &[]);
    study
}

/// A form as a browser sends it, with some fields changed and a button pressed.
fn form(changes: &[(&str, &str)], button: &str) -> String {
    let mut fields: Vec<_> = FORM.to_vec();
    for (name, value) in changes {
        fields.retain(|(field, _)| field != name);
        if !value.is_empty() {
            fields.push((name, value));
        }
    }
    fields.push(("do", button));
    let coded = |text: &str| -> String {
        let sign = |byte: u8| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
            _ => format!("%{byte:02X}"),
        };
        text.bytes().map(sign).collect()
    };
    let pairs = fields.iter();
    let pairs: Vec<_> = pairs
        .map(|(name, value)| format!("{}={}", coded(name), coded(value)))
        .collect();
    pairs.join("&")
}

/// Fills in the form as Ada and gives where the browser is sent.
#[track_caller]
fn fill(desk: &Desk, cookie: &str, changes: &[(&str, &str)], button: &str) -> String {
    let form = form(changes, button);
    let answer = desk.post("/desk/rounds/new", &form, &[("cookie", cookie)]);
    assert_eq!(answer.status, 303, "{}", answer.text);
    answer.header("location").to_owned()
}

#[track_caller]
fn page(desk: &Desk, cookie: &str, path: &str) -> String {
    let answer = desk.get(path, &[("cookie", cookie)]);
    assert_eq!(answer.status, 200, "{path}");
    answer.text
}

/// What stands between two marks of a page.
#[track_caller]
fn between<'p>(page: &'p str, before: &str, after: &str) -> &'p str {
    let start = page
        .find(before)
        .unwrap_or_else(|| panic!("no {before} in {page}"));
    let rest = &page[start + before.len()..];
    &rest[..rest.find(after).unwrap()]
}

fn round(study: &Study) -> RoundRow {
    let name = RoundName::new("spring").unwrap();
    let row = study
        .store()
        .read(|reading: &Reading<'_>| reading.round_named(&name));
    row.unwrap().unwrap()
}

/// Seals what stands in the form, as the plan's page shows it.
#[track_caller]
fn seal(desk: &Desk, cookie: &str) -> crate::support::Answer {
    let plan = page(desk, cookie, "/desk/rounds/new/plan");
    let digest = between(&plan, "name=\"plan\" value=\"", "\"");
    desk.post(
        "/desk/rounds/new/seal",
        &format!("plan={digest}"),
        &[("cookie", cookie)],
    )
}

#[test]
fn a_plan_is_sealed_by_the_page_as_by_the_command() {
    let (by_command, by_page) = (study(), study());
    fs::write(by_command.plan(), FILE).unwrap();
    app::seal_round(&by_command.workspace, &by_command.plan(), Now::read()).unwrap();
    let desk = Desk::of(&by_page);
    let cookie = desk.sign_in("Ada");
    assert_eq!(fill(&desk, &cookie, &[], "read"), "/desk/rounds/new/plan");
    let sealed = seal(&desk, &cookie);
    assert_eq!(
        (sealed.status, sealed.header("location")),
        (303, "/desk/rounds/spring/seal")
    );

    let (command, page) = (round(&by_command), round(&by_page));
    assert_eq!(command.plan, page.plan);
    let documents = [&command.document, &page.document].map(|text| {
        let mut document: Value = serde_json::from_str(text).unwrap();
        // Drawn by each seal for itself: secrets, codes, salts, and where the log stood.
        for drawn in ["seed_sha256", "children", "log"] {
            assert!(
                document.as_object_mut().unwrap().remove(drawn).is_some(),
                "{drawn}"
            );
        }
        for (list, drawn) in [
            ("listeners", "listener"),
            ("listeners", "link_sha256"),
            ("listeners", "side"),
            ("listeners", "expires_ms"),
            ("open_links", "link_sha256"),
            ("open_links", "expires_ms"),
            ("tokens", "commitment"),
            ("tokens", "use"),
        ] {
            for row in document[list].as_array_mut().unwrap() {
                assert!(
                    row.as_object_mut().unwrap().remove(drawn).is_some(),
                    "{drawn}"
                );
            }
        }
        document
    });
    assert_eq!(documents[0], documents[1]);
    // The form begins anew, and the seal's receipt holds against the log.
    assert!(page_of(&desk, &cookie).contains("name=\"round\" value=\"\""));
    let sheet = desk
        .get("/desk/rounds/spring/seal", &[("cookie", &cookie)])
        .text;
    assert!(sheet.contains(&page.seal));
    let receipt = between(&sheet, "just after</dt><dd class=\"receipt\">", "<").to_owned();
    let verified = app::verify(&by_page.workspace, &[receipt]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
    assert!(
        !sheet.contains("C03"),
        "the sheet leaves the machine and names a child"
    );
}

fn page_of(desk: &Desk, cookie: &str) -> String {
    page(desk, cookie, "/desk/rounds/new")
}

#[test]
fn the_file_that_the_plan_s_page_shows_is_the_plan() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    fill(&desk, &cookie, &[], "read");
    let shown = page(&desk, &cookie, "/desk/rounds/new/plan");
    let file = between(&shown, "<pre class=\"file\" tabindex=\"0\">", "</pre>");
    let file = file
        .replace("&#34;", "\"")
        .replace("&#39;", "'")
        .replace("&#60;", "<");
    fs::write(study.plan(), file).unwrap();
    app::seal_round(&study.workspace, &study.plan(), Now::read()).unwrap();
    let by_hand: Plan = toml::from_str(FILE).unwrap();
    let by_hand = serde_json::to_value(by_hand.settled()).unwrap();
    assert_eq!(
        round(&study).plan,
        Canonical::of(&by_hand).unwrap().as_str()
    );
    // In plain words it says what was chosen, children by their codes.
    for said in [
        "Words of C01, C03 alone.",
        "3 judgements of each word, by as many different experts.",
        "Listener 2 never hears C03.",
        "12 words to judge at most, 25% of them heard again, at least 3 places later.",
        "baseline against treatment, of which its last 2 sessions only.",
        "The smallest change that matters is 12.5 points.",
        "Rule 8: at least 5 judgements.",
    ] {
        assert!(shown.contains(said), "{said}");
    }
}

#[test]
fn every_wrong_field_is_told_at_the_field_and_nothing_is_lost() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let fresh = page_of(&desk, &cookie);
    assert!(
        !fresh.contains("field wrong"),
        "nothing is asked before anything is filled in"
    );
    for (field, wrong, said) in [
        ("round", "", "Give the round a name."),
        ("round", "new", "“new” is the address of this page"),
        (
            "invited",
            "-3",
            "“-3” does not fit here. Write a whole number from 0 to 10000.",
        ),
        ("judgements", "0", "Write a whole number from 1"),
        ("repeats", "150", "Write a percentage from 0 to 100"),
        ("bars", "2", "Write a listener's number and a child's code"),
        (
            "bars",
            "9 C03",
            "There is no personal link 9. They are numbered from 1 to 6.",
        ),
        ("bars", "1 C77", "The study has no child C77"),
        ("children", "C77", "not in the study any more"),
        ("contrast-to", "baseline", "Both sides are the same phase"),
        ("live-after", "9", "A listener hears 8 checks"),
        (
            "rule-too-fast-share",
            "",
            "Write how many answers may be so fast",
        ),
        ("text-consent", " ", "Write what a listener agrees to."),
        ("confidence", "100", "above 0 and below 100"),
        (
            "own-questions",
            "region | Where? | Here",
            "choices; give 2 to 12",
        ),
        (
            "sample-words",
            "some",
            "Write a whole number from 1 to 10000.",
        ),
        (
            "volunteers",
            "24",
            "Write how many minutes each of them has.",
        ),
    ] {
        fill(&desk, &cookie, &[(field, wrong)], "read");
        let sent = desk.get("/desk/rounds/new/plan", &[("cookie", &cookie)]);
        assert_eq!(
            sent.header("location"),
            "/desk/rounds/new",
            "{field}: {wrong}"
        );
        let shown = page_of(&desk, &cookie).replace("&#39;", "'");
        let at = match field {
            "volunteers" => "volunteer-minutes",
            field => field,
        };
        let told = between(&shown, &format!("id=\"{at}-error\">"), "</p>");
        assert!(told.contains(said), "{field}: {wrong}: {told}");
        for kept in [
            "value=\"14\"",
            "You may stop.</textarea>",
            "value=\"expert\" selected",
            "value=\"hearing\" checked",
            "value=\"12.5\"",
        ] {
            assert!(shown.contains(kept), "{kept} was lost by a wrong {field}");
        }
        let refused = desk.post("/desk/rounds/new/seal", "plan=x", &[("cookie", &cookie)]);
        assert_eq!(refused.header("location"), "/desk/rounds/new");
    }
}

#[test]
fn what_the_act_refuses_is_told_in_sentences_and_nothing_is_sealed() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    fill(
        &desk,
        &cookie,
        &[("checks", "9"), ("live-after", "2")],
        "read",
    );
    let shown = page(&desk, &cookie, "/desk/rounds/new/plan");
    assert!(
        shown.contains("9 check tokens, and the study has 4"),
        "{shown}"
    );
    let refused = seal(&desk, &cookie);
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("9 check tokens, and the study has 4"));
    assert!(
        !study
            .events()
            .iter()
            .any(|event| event.kind == "round sealed")
    );
    // A plan that changed in another window is not the one that was read.
    fill(&desk, &cookie, &[], "read");
    let read = page(&desk, &cookie, "/desk/rounds/new/plan");
    let digest = between(&read, "name=\"plan\" value=\"", "\"").to_owned();
    fill(&desk, &cookie, &[("judgements", "2")], "read");
    let stale = desk.post(
        "/desk/rounds/new/seal",
        &format!("plan={digest}"),
        &[("cookie", &cookie)],
    );
    assert_eq!(stale.status, 422);
    assert!(stale.text.contains("changed after you opened this page"));
    // What was sealed once is not sealed again.
    assert_eq!(seal(&desk, &cookie).status, 303);
    fill(&desk, &cookie, &[], "read");
    let again = seal(&desk, &cookie);
    assert_eq!(again.status, 422);
    assert!(again.text.contains("was sealed before"));
}

#[test]
fn a_preset_begins_with_a_round_that_can_be_sealed() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    for preset in ["naive", "colleagues"] {
        fill(&desk, &cookie, &[("bars", ""), ("live-after", "")], preset);
        let shown = page_of(&desk, &cookie);
        assert!(!shown.contains("field wrong"), "{preset}");
        assert!(!shown.contains("in the way of the seal"), "{preset}");
        assert!(
            shown.contains("name=\"round\" value=\"spring\""),
            "the name stays"
        );
    }
    fill(&desk, &cookie, &[], "forget");
    let anew = page_of(&desk, &cookie);
    assert!(anew.contains("name=\"round\" value=\"\""));
    // Each person has a form of her own.
    account(&study, "Bea", "researcher", &[]);
    let other = desk.sign_in("Bea");
    fill(&desk, &other, &[("round", "autumn")], "forecast");
    assert!(!page_of(&desk, &cookie).contains("autumn"));
}

#[test]
fn a_line_of_what_volunteers_can_prove_is_taken_over_into_the_form() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let asked = [
        ("volunteers", "24"),
        ("volunteer-minutes", "20"),
        ("children", ""),
        ("bars", ""),
    ];
    let blank = [("sample-words", ""), ("sample-sessions", "")];
    let changes: Vec<_> = asked.into_iter().chain(blank).collect();
    fill(&desk, &cookie, &changes, "forecast");
    let shown = page_of(&desk, &cookie);
    assert!(
        shown.contains("value=\"take-5\"") && shown.contains("value=\"take-all\""),
        "{shown}"
    );
    fill(&desk, &cookie, &changes, "take-5");
    let taken = page_of(&desk, &cookie);
    // Twenty minutes are 4 before the first word, 8 for 80 words and 8 rests: 58 main words, 15 repeats, 7 others. Three
    // children with four sessions of five words are 60: 24 × 58 judgements are 23 of each.
    for (field, value) in [
        ("sample-words", "5"),
        ("judgements", "23"),
        ("tokens", "58"),
        ("invited", "24"),
        ("sittings", "1"),
    ] {
        assert!(
            taken.contains(&format!("name=\"{field}\" value=\"{value}\"")),
            "{field}"
        );
    }
}

#[test]
fn the_script_gets_the_same_page_at_once_and_what_it_sent_is_kept() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let sent = form(&[("judgements", "2"), ("text-consent", "")], "");
    let answer = desk.post("/desk/rounds/new/forecast", &sent, &[("cookie", &cookie)]);
    assert_eq!(answer.status, 200);
    assert!(
        !answer.text.contains("Write what a listener agrees to."),
        "what is only missing is told when asked"
    );
    assert_eq!(answer.text, page_of(&desk, &cookie));
    assert!(answer.text.contains("Sittings needed"));
}

#[test]
fn a_form_that_named_an_erased_child_begins_anew() {
    let study = study();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    fill(&desk, &cookie, &[("round", "with C02")], "forecast");
    assert!(page_of(&desk, &cookie).contains("with C02"));
    let code = ChildCode::new("C02").unwrap();
    app::erase_child(&study.workspace, &code, Now::at_ms(1_749_000_000_000)).unwrap();
    let page = page_of(&desk, &cookie);
    assert!(!page.contains("with C02"), "{page}");
}
