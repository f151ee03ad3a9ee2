//! A round at the desk from its middle to its end: followed without an outcome, paused, closed, unlocked, exported.

use std::io::BufRead;
use std::io::Cursor;
use std::io::Read;

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::folder;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::RoundName;
use fairhearing::study::RoundState;
use fairhearing::web::Reached;
use rusqlite::Connection;

use crate::support::Desk;
use crate::support::Study;
use crate::support::account;
use crate::support::listen;

fn spring() -> RoundName {
    RoundName::new("spring").unwrap()
}

fn state(study: &Study) -> RoundState {
    app::state_of(&study.workspace, &spring()).unwrap()
}

fn says(page: &str, sentence: &str) -> bool {
    page.contains(sentence)
}

/// Who did what the latest event of a kind tells.
fn by_in_the_log(study: &Study, kind: &str) -> String {
    let events = study.events();
    let event = events.iter().rev().find(|event| event.kind == kind);
    let body = event
        .unwrap_or_else(|| panic!("no event `{kind}`"))
        .body
        .as_str();
    let body: serde_json::Value = serde_json::from_str(body).unwrap();
    body["by"].as_str().unwrap_or_default().to_owned()
}

fn nothing_is_wrong_with(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

/// A study with a researcher, whose code in the log comes with it.
fn with_ada() -> (Study, String, Desk, String) {
    let study = Study::with().sealed();
    let code = account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    (study, code, desk, cookie)
}

#[test]
fn closing_says_what_is_missing_asks_once_and_is_logged_with_who_did_it() {
    let (study, code, desk, cookie) = with_ada();
    listen(&study.workspace, &study.links()[0], |_| Correct);
    let signed_in = [("cookie", cookie.as_str())];
    let page = desk.get("/desk/rounds/spring/close", &signed_in).text;
    // Twelve words, two judgements wanted of each, one listener of two is done.
    assert!(says(
        &page,
        "12 of 12 words have fewer than the 2 judgements"
    ));
    assert!(says(&page, "12 judgements in all are missing"));
    assert!(says(&page, "One link was not opened yet."));
    study.listener(1).begin();
    let page = desk.get("/desk/rounds/spring/close", &signed_in).text;
    assert!(says(&page, "One sitting is under way."));

    let refused = desk.post("/desk/rounds/spring/close", "", &signed_in);
    assert_eq!((refused.status, state(&study)), (422, RoundState::Open));
    assert!(says(&refused.text, "Nothing was done: tick"));
    let done = desk.post("/desk/rounds/spring/close", "sure=yes", &signed_in);
    assert_eq!(
        (done.status, done.header("location")),
        (303, "/desk/rounds/spring")
    );
    assert_eq!(state(&study), RoundState::Closed);
    assert_eq!(by_in_the_log(&study, "round closed"), code);
    let again = desk.post("/desk/rounds/spring/close", "sure=yes", &signed_in);
    assert_eq!(again.status, 422);
    assert!(says(&again.text, "round spring is closed"));
    nothing_is_wrong_with(&study);
}

#[test]
fn unlocking_comes_after_closing_asks_once_and_opens_the_results() {
    let (study, code, desk, cookie) = with_ada();
    let signed_in = [("cookie", cookie.as_str())];
    for link in study.links() {
        listen(&study.workspace, link, |_| Correct);
    }
    let early = desk.post("/desk/rounds/spring/unlock", "sure=yes", &signed_in);
    assert_eq!((early.status, state(&study)), (422, RoundState::Open));
    desk.post("/desk/rounds/spring/close", "sure=yes", &signed_in);
    let page = desk.get("/desk/rounds/spring", &signed_in).text;
    assert!(page.contains("href=\"/desk/rounds/spring/unlock\""));
    let refused = desk.post("/desk/rounds/spring/unlock", "sure=on", &signed_in);
    assert_eq!((refused.status, state(&study)), (422, RoundState::Closed));
    let done = desk.post("/desk/rounds/spring/unlock", "sure=yes", &signed_in);
    assert_eq!((done.status, state(&study)), (303, RoundState::Unlocked));
    assert_eq!(by_in_the_log(&study, "round unlocked"), code);
    let page = desk.get("/desk/rounds/spring", &signed_in).text;
    for next in ["results", "exports"] {
        assert!(
            page.contains(&format!("href=\"/desk/rounds/spring/{next}\"")),
            "{next}"
        );
        let shown = desk.get(&format!("/desk/rounds/spring/{next}"), &signed_in);
        assert_eq!(shown.status, 200, "{next}");
    }
    nothing_is_wrong_with(&study);
}

#[test]
fn a_round_is_paused_and_goes_on_by_a_button() {
    let (study, code, desk, cookie) = with_ada();
    let signed_in = [("cookie", cookie.as_str())];
    let paused = || app::progress(&study.workspace).unwrap()[0].paused;
    for (button, is_paused, event) in [
        ("pause", true, "round paused"),
        ("resume", false, "round resumed"),
    ] {
        let page = desk.get("/desk/rounds/spring", &signed_in).text;
        assert!(page.contains(&format!("action=\"/desk/rounds/spring/{button}\"")));
        // Sent twice, it is done once.
        for _ in 0..2 {
            let done = desk.post(&format!("/desk/rounds/spring/{button}"), "", &signed_in);
            assert_eq!(done.status, 303);
            assert_eq!(paused(), is_paused);
        }
        let told = study.events().into_iter().filter(|told| told.kind == event);
        assert_eq!(told.count(), 1, "{event}");
        assert_eq!(by_in_the_log(&study, event), code);
    }
    nothing_is_wrong_with(&study);
}

#[test]
fn an_export_is_downloaded_as_the_command_writes_it_and_listed_from_then_on() {
    let (study, code, desk, cookie) = with_ada();
    let signed_in = [("cookie", cookie.as_str())];
    for link in study.links() {
        listen(&study.workspace, link, |_| Correct);
    }
    let early = desk.post("/desk/rounds/spring/exports", "form=internal", &signed_in);
    assert_eq!(early.status, 422);
    assert!(says(&early.text, "its results are not to be seen yet"));
    app::close(&study.workspace, &spring(), Now::read()).unwrap();
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
    for (form, findings) in [
        (
            "internal",
            app::findings(&study.workspace, &unlocked).unwrap(),
        ),
        (
            "share",
            app::shared_findings(&study.workspace, &unlocked).unwrap(),
        ),
    ] {
        let sent = format!("form={form}");
        let answer = desk.post("/desk/rounds/spring/exports", &sent, &signed_in);
        assert_eq!(answer.status, 200);
        assert_eq!(
            answer.header("content-disposition"),
            format!("attachment; filename=\"export-spring-{form}.zip\"")
        );
        assert_eq!(unpacked(&answer.bytes), folder::export(&findings).unwrap());
        assert_eq!(by_in_the_log(&study, "copy made"), code);
        let page = desk.get("/desk/rounds/spring/exports", &signed_in).text;
        assert!(says(
            &page,
            &format!("a download, export-spring-{form}.zip")
        ));
    }
    let unknown = desk.post("/desk/rounds/spring/exports", "form=all", &signed_in);
    assert_eq!(unknown.status, 422);
    assert_eq!(app::copies_made(&study.workspace).unwrap().len(), 2);
    nothing_is_wrong_with(&study);
}

/// The files of a ZIP in their order.
fn unpacked(packed: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut packed = zip::ZipArchive::new(Cursor::new(packed)).unwrap();
    (0..packed.len())
        .map(|place| {
            let mut file = packed.by_index(place).unwrap();
            let mut content = Vec::new();
            file.read_to_end(&mut content).unwrap();
            (file.name().unwrap().into_owned(), content)
        })
        .collect()
}

/// The next event that says something.
fn next_event(events: &mut impl BufRead) -> String {
    let mut event = String::new();
    loop {
        let mut line = String::new();
        assert_ne!(
            events.read_line(&mut line).unwrap(),
            0,
            "it ended after {event:?}"
        );
        if line != "\n" {
            event.push_str(&line);
        } else if event.contains("data:") {
            return event;
        } else {
            event.clear();
        }
    }
}

#[test]
fn answers_to_the_words_of_one_phase_change_no_byte_of_the_page_or_its_events() {
    let study = Study::with().sealed();
    account(&study, "Ada", "researcher", &[]);
    let mut turn = 0;
    listen(&study.workspace, &study.links()[0], |_| {
        turn += 1;
        if turn % 3 == 0 { Distorted } else { Correct }
    });
    let mut second = study.listener(1);
    second.begin();
    let ahead = second.current().unwrap();
    second.judge(ahead.id, Correct);

    let place = tempfile::tempdir().unwrap();
    let copy = place.path().join("copy");
    app::back_up(&study.workspace, &copy, Now::read()).unwrap();
    let [plain, other] = ["plain", "other"].map(|name| {
        let folder = place.path().join(name);
        app::restore(&copy, &folder).unwrap();
        folder
    });
    // Every answer to a word of the second phase is turned round, and that of its repeat with it, so that
    // the sealed signals say what they said.
    let file = Connection::open(other.join("fairhearing.db")).unwrap();
    let turned = file
        .execute(
            "UPDATE judgement SET answer = CASE answer WHEN 'correct' THEN 'distorted' ELSE 'correct' END
             WHERE presentation_id IN (
                 SELECT presentation.id FROM presentation
                 JOIN round_token ON round_token.id = presentation.round_token_id
                 JOIN token ON token.id = round_token.token_id
                 JOIN session ON session.id = token.session_id
                 WHERE session.phase = 'treatment' AND round_token.use = 'scored')",
            [],
        )
        .unwrap();
    // Two children with one session of three words in that phase, heard by one listener at least.
    assert!(turned >= 6, "{turned}");
    drop(file);

    let [plain, other] = [plain, other].map(|folder| {
        let workspace = Workspace::open(&folder).unwrap();
        let desk = Desk::serving(&workspace, Reached::default(), None);
        let cookie = desk.sign_in("Ada");
        let page = desk.get("/desk/rounds/spring", &[("cookie", &cookie)]);
        assert_eq!(page.status, 200);
        let event = next_event(&mut desk.events("/desk/rounds/spring/live", &cookie));
        (page.text, event)
    });
    assert!(plain.0.contains("Sittings under way") && plain.1.contains("data-part=\"listeners\""));
    assert_eq!(plain, other);
}

#[test]
fn the_events_tell_each_judgement_and_end_with_the_session() {
    let (study, _, desk, cookie) = with_ada();
    let mut events = desk.events("/desk/rounds/spring/live", &cookie);
    assert!(next_event(&mut events).contains("0 of 24"));
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    // What comes in between may be a part of it.
    while !next_event(&mut events).contains("12 of 24") {}
    desk.post("/desk/sign-out", "", &[("cookie", &cookie)]);
    loop {
        let event = next_event(&mut events);
        if event.contains("event: over") {
            assert!(event.contains("You are signed out"), "{event}");
            break;
        }
    }
    let mut rest = String::new();
    events.read_to_string(&mut rest).unwrap();
    assert!(!rest.contains("data:"), "{rest}");
}

#[test]
fn divided_words_are_heard_by_staff_once_unlocked_and_the_log_tells_each_play() {
    let (study, code, desk, cookie) = with_ada();
    let signed_in = [("cookie", cookie.as_str())];
    listen(&study.workspace, &study.links()[0], |_| Correct);
    listen(&study.workspace, &study.links()[1], |_| Distorted);
    assert_eq!(
        desk.get("/desk/rounds/spring/words", &signed_in).status,
        404
    );
    let early = desk.get("/desk/rounds/spring/words/T01/sound", &signed_in);
    assert_eq!(early.status, 404);
    app::close(&study.workspace, &spring(), Now::read()).unwrap();
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    let page = desk.get("/desk/rounds/spring/words", &signed_in);
    assert_eq!(page.status, 200);
    // Two listeners who never agree divide on all of the twelve words.
    assert_eq!(page.text.matches("<audio ").count(), 12);
    let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap().round;
    let token = &found.consensus.contested[0];
    let address = format!("/desk/rounds/spring/words/{token}/sound");
    assert!(page.text.contains(&format!("src=\"{address}\"")));
    let plays = || {
        let events = study.events().into_iter();
        events
            .filter(|event| event.kind == "word played by staff")
            .count()
    };
    let heard = desk.get(&address, &signed_in);
    assert_eq!((heard.status, plays()), (200, 1));
    assert_eq!(heard.bytes.get(..4), Some(&b"fLaC"[..]));
    // The rest of a sound that has begun is no further play.
    let rest = desk.get(&address, &[signed_in[0], ("range", "bytes=100-")]);
    assert_eq!((rest.status, plays()), (206, 1));
    assert_eq!(rest.bytes, heard.bytes[100..]);
    assert_eq!(by_in_the_log(&study, "word played by staff"), code);
    let unknown = desk.get("/desk/rounds/spring/words/T99/sound", &signed_in);
    assert_eq!((unknown.status, plays()), (404, 1));
    nothing_is_wrong_with(&study);
}
