//! Invitations at the desk: links are shown for a while to who made them, are hashed on the disk, and can be taken back.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::web::Reached;

use crate::support::Desk;
use crate::support::Labels;
use crate::support::Study;
use crate::support::account;

/// A sealed round whose labels nothing else can hold by chance, and a desk that listeners reach.
fn served() -> (Study, Desk, String) {
    let study = Study::with().labels(Labels::markers()).sealed();
    account(&study, "Ada", "researcher", &[]);
    account(&study, "Bea", "researcher", &[]);
    let reached = Reached {
        public_url: Some("https://rating.example".to_owned()),
        ..Reached::default()
    };
    let desk = Desk::reached(&study, reached, None);
    let cookie = desk.sign_in("Ada");
    (study, desk, cookie)
}

const PAGE: &str = "/desk/rounds/spring/invitations";

/// Makes links by the form and gives the page that shows them.
#[track_caller]
fn invite(desk: &Desk, cookie: &str, form: &str) -> String {
    let answer = desk.post(PAGE, form, &[("cookie", cookie)]);
    assert_eq!(answer.status, 303, "{}", answer.text);
    answer.header("location").to_owned()
}

#[track_caller]
fn get(desk: &Desk, cookie: &str, path: &str) -> String {
    let answer = desk.get(path, &[("cookie", cookie)]);
    assert_eq!(answer.status, 200, "{path}");
    answer.text
}

/// The secrets of all links in a text.
fn secrets(text: &str) -> Vec<&str> {
    let parts = text.split("https://rating.example/l/").skip(1);
    parts
        .map(|part| {
            part.split(|sign: char| !sign.is_ascii_alphanumeric())
                .next()
                .unwrap()
        })
        .collect()
}

#[test]
fn personal_links_come_as_a_table_a_file_and_slips_that_tell_nothing() {
    let (study, desk, cookie) = served();
    let child = study.with.child(0);
    let form = format!("what=personal&number=3&kind=expert&days=14&bar={child}");
    let batch = invite(&desk, &cookie, &form);
    let table = get(&desk, &cookie, &batch);
    let shown = secrets(&table);
    assert_eq!(shown.len(), 3);
    let file = desk.get(&format!("{batch}/links.csv"), &[("cookie", &cookie)]);
    assert_eq!(
        file.header("content-disposition"),
        "attachment; filename=\"links.csv\""
    );
    let mut reader = csv::Reader::from_reader(file.text.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(
        reader.headers().unwrap(),
        vec!["link", "listener", "address", "open_until"]
    );
    // The seal named listeners 1 and 2.
    let numbers: Vec<_> = rows.iter().map(|row| row[0].to_owned()).collect();
    assert_eq!(numbers, ["3", "4", "5"]);
    for (row, secret) in rows.iter().zip(&shown) {
        assert_eq!(row[2], format!("https://rating.example/l/{secret}"));
        assert_eq!(row[3].len(), "2025-06-16".len());
    }
    let slips = get(&desk, &cookie, &format!("{batch}/slips"));
    let slips = &slips[slips.find("class=\"slips\"").unwrap()..];
    assert_eq!(slips.matches("<svg class=\"qr\"").count(), 3);
    assert_eq!(secrets(slips), shown);
    for label in Labels::markers()
        .all()
        .iter()
        .chain(["spring".to_owned()].iter())
    {
        assert!(!slips.contains(label.as_str()), "a slip tells {label}");
    }
    // On the disk is no secret, only its digest; the bar holds.
    let on_disk = std::fs::read(study.database()).unwrap();
    let mut all = on_disk.clone();
    all.extend(std::fs::read(study.database().with_extension("db-wal")).unwrap_or_default());
    for secret in shown {
        assert!(
            !all.windows(secret.len())
                .any(|bytes| bytes == secret.as_bytes())
        );
        let opened = desk.get(&format!("/l/{secret}"), &[]);
        assert_eq!(opened.status, 303);
    }
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
    let events = study.events();
    let invited = events
        .iter()
        .find(|event| event.kind == "listeners invited")
        .unwrap();
    assert_eq!(invited.body.as_str().matches("\"bars\"").count(), 3);
}

#[test]
fn links_are_shown_to_their_maker_alone_until_she_forgets_them() {
    let (_study, desk, cookie) = served();
    let batch = invite(&desk, &cookie, "what=open&number=40&kind=naive&days=");
    let other = desk.sign_in("Bea");
    for page in ["", "/links.csv", "/slips"] {
        let path = format!("{batch}{page}");
        assert_eq!(
            secrets(&get(&desk, &cookie, &path)).len(),
            1,
            "a reload loses nothing: {page}"
        );
        let refused = desk.get(&path, &[("cookie", &other)]);
        assert_eq!((refused.status, refused.header("location")), (303, PAGE));
    }
    desk.post(&format!("{batch}/forget"), "", &[("cookie", &other)]);
    assert!(
        get(&desk, &cookie, PAGE).contains(&batch),
        "another person forgets nothing of hers"
    );
    desk.post(&format!("{batch}/forget"), "", &[("cookie", &cookie)]);
    let page = get(&desk, &cookie, PAGE);
    assert!(!page.contains(&batch));
    assert!(page.contains("0 of 40 came"));
    assert!(secrets(&page).is_empty());
}

#[test]
fn a_wrong_invitation_is_told_at_its_field_and_nothing_is_made() {
    let (study, desk, cookie) = served();
    let child = study.with.child(0);
    let before = study.events().len();
    for (form, said) in [
        (
            "what=personal&number=0&kind=naive",
            "Write a whole number from 1 to 500.".to_owned(),
        ),
        (
            "what=personal&number=some&kind=naive",
            "Write a whole number from 1 to 500.".to_owned(),
        ),
        (
            "what=personal&number=2&days=-1",
            "or leave it empty".to_owned(),
        ),
        (
            &format!("what=open&number=2&bar={child}"),
            "so it can bar nobody from a child".to_owned(),
        ),
    ] {
        let refused = desk.post(PAGE, form, &[("cookie", &cookie)]);
        assert_eq!(refused.status, 422, "{form}");
        assert!(refused.text.contains(&said), "{form}: {}", refused.text);
    }
    let refused = desk.post(
        PAGE,
        &format!("what=open&number=7&bar={child}"),
        &[("cookie", &cookie)],
    );
    for kept in [
        "value=\"open\" checked",
        "value=\"7\"",
        &format!("value=\"{child}\" checked"),
    ] {
        assert!(refused.text.contains(kept), "{kept} was lost");
    }
    assert_eq!(study.events().len(), before);
}

#[test]
fn a_link_that_is_taken_back_opens_nothing_and_cannot_be_taken_back_twice() {
    let (study, desk, cookie) = served();
    let revoke = format!("{PAGE}/revoke");
    let answer = desk.post(&revoke, "link=1", &[("cookie", &cookie)]);
    assert_eq!((answer.status, answer.header("location")), (303, PAGE));
    assert!(get(&desk, &cookie, PAGE).contains("taken back"));
    let opened = desk.get(&study.links()[0].path, &[]);
    assert_ne!(opened.status, 303, "its listener is not let in");
    assert_eq!(desk.get(&study.links()[1].path, &[]).status, 303);
    let twice = desk.post(&revoke, "link=1", &[("cookie", &cookie)]);
    assert_eq!(twice.status, 422);
    assert!(twice.text.contains("taken back before"));
    let batch = invite(&desk, &cookie, "what=open&number=5&kind=naive");
    let page = get(&desk, &cookie, &batch);
    let open = format!("/l/{}", secrets(&page)[0]);
    assert_eq!(
        desk.post(&revoke, "open-link=1", &[("cookie", &cookie)])
            .status,
        303
    );
    assert_ne!(desk.get(&open, &[]).status, 303);
    assert_eq!(desk.post(&revoke, "", &[("cookie", &cookie)]).status, 422);
}

#[test]
fn a_round_that_is_closed_offers_no_further_links() {
    let (study, desk, cookie) = served();
    let name = study.round.as_ref().unwrap().round.clone();
    app::close(&study.workspace, &name, Now::read()).unwrap();
    assert!(!get(&desk, &cookie, PAGE).contains("Make the links"));
    let refused = desk.post(
        PAGE,
        "what=personal&number=1&kind=naive",
        &[("cookie", &cookie)],
    );
    assert_eq!(refused.status, 422);
}

#[test]
fn slips_speak_the_language_of_the_listeners() {
    let (study, desk, cookie) = served();
    let settings = study.folder().join("study.toml");
    let text = std::fs::read_to_string(&settings).unwrap();
    std::fs::write(&settings, format!("{text}language = \"es\"\n")).unwrap();
    let batch = invite(&desk, &cookie, "what=personal&number=1&kind=naive");
    let slips = get(&desk, &cookie, &format!("{batch}/slips"));
    assert!(slips.contains("lang=\"es\"") && slips.contains("Le invitamos a escuchar"));
}
