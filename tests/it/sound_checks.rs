//! The sound of each device has a check of its own, and nobody is asked twice at one.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::app::listening::ListeningError;
use fairhearing::app::listening::Stage;
use fairhearing::exchange;
use fairhearing::seal;
use fairhearing::study::Judgement::Correct;
use rusqlite::Connection;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const HEADPHONES: &str =
    "device=wireless&heard=yes&level_db=-9&headphones_right=6&headphones_of=6&headphones_tries=1";
const LOUDSPEAKER: &str =
    "device=built-in&heard=yes&level_db=-12&headphones_right=2&headphones_of=6&headphones_tries=1";

/// The number of each check and what it was made with, as the export of the round holds them.
fn exported(study: &Study) -> Vec<(String, String)> {
    let round = &study.round.as_ref().unwrap().round;
    app::close(&study.workspace, round, Now::read()).unwrap();
    app::unlock(&study.workspace, round, Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, round).unwrap();
    let record = app::record(&study.workspace, &unlocked).unwrap();
    let table = String::from_utf8(exchange::write_sound_checks(&record)).unwrap();
    let lines = table.lines().skip(1);
    lines
        .map(|line| {
            let mut cells = line.split(',').skip(1).map(str::to_owned);
            (cells.next().unwrap(), cells.next().unwrap())
        })
        .collect()
}

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

async fn page(remote: &mut Remote) -> String {
    remote.get("/listen").await.text()
}

#[tokio::test]
async fn a_second_device_has_a_check_of_its_own_and_the_first_is_not_asked_again() {
    let study = Study::with()
        .practice(0)
        .listeners(1)
        .judgements(1)
        .sealed();
    let server = Server::start(&study.folder());
    let link = &study.links()[0].path;
    let mut phone = Remote::new(&server.address);
    phone.begin(link).await;
    let word = phone.ahead().await[0].clone();
    let mut laptop = Remote::new(&server.address);
    laptop.get(link).await;
    assert!(
        page(&mut laptop)
            .await
            .contains("action=\"/listen/sound-check")
    );
    let early = laptop.get("/listen/ahead").await;
    assert_eq!(early.status, 409, "no word before the check");
    for _ in 0..2 {
        // Sent twice, it is one check.
        let sent = laptop.post("/listen/sound-check", HEADPHONES).await;
        assert_eq!(sent.status, 303);
    }
    assert!(page(&mut laptop).await.contains("id=\"sitting\""));
    assert_eq!(laptop.ahead().await[0], word, "the same place");
    // The link again, in a browser that is let in: the same cookie, and no question.
    let cookies = phone.cookies.clone();
    assert_eq!(phone.get(link).await.status, 303);
    assert_eq!(phone.cookies, cookies);
    assert!(page(&mut phone).await.contains("id=\"sitting\""));
    assert_verified(&study);
    let told = |number: &str, device: &str| (number.to_owned(), device.to_owned());
    assert_eq!(
        exported(&study),
        [told("1", "built-in"), told("2", "wireless")]
    );
}

#[tokio::test]
async fn a_device_that_does_not_do_leaves_the_others_as_they_are() {
    let course = "[sound_check]\nfirst_sound = \"off\"\nheadphones = \"require\"\n";
    let study = Study::with().practice(0).course(course.to_owned()).sealed();
    let server = Server::start(&study.folder());
    let link = &study.links()[0].path;
    let mut phone = Remote::new(&server.address);
    phone.get(link).await;
    phone.post("/listen/consent", "version=1&agreed=yes").await;
    phone.post("/listen/sound-check", LOUDSPEAKER).await;
    assert!(page(&mut phone).await.contains("Thank you for trying"));
    let mut laptop = Remote::new(&server.address);
    laptop.get(link).await;
    let sent = laptop.post("/listen/sound-check", HEADPHONES).await;
    assert_eq!(sent.status, 303);
    assert_eq!(laptop.post("/listen/begin", "").await.status, 303);
    let id = laptop.ahead().await[0].clone();
    assert_eq!(laptop.judge(&id, "correct").await.status, 200);
    // The phone is no way round it.
    phone.get(link).await;
    assert!(page(&mut phone).await.contains("Thank you for trying"));
    assert_eq!(phone.get("/listen/ahead").await.status, 409);
    assert_verified(&study);
}

#[test]
fn who_has_judged_every_word_is_asked_for_no_check_at_another_device() {
    let study = Study::with()
        .practice(0)
        .judgements(1)
        .listeners(1)
        .sealed();
    let mut listener = study.listener(0);
    listener.begin();
    listener.judge_all(|_| Correct);
    let mut elsewhere = study.listener(0);
    assert_eq!(elsewhere.stage(), Stage::Closing);
    elsewhere.finish();
    assert_verified(&study);
}

#[test]
fn no_word_is_told_to_a_browser_whose_sound_was_not_checked() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let mut elsewhere = study.listener(0);
    let now = elsewhere.now();
    let early = app::listening::ahead(&study.workspace, &elsewhere.cookie, now);
    assert!(
        matches!(early, Err(ListeningError::OutOfOrder)),
        "{early:?}"
    );
    assert!(matches!(elsewhere.stage(), Stage::SoundCheck { .. }));
    elsewhere.check_sound();
    assert_eq!(elsewhere.current(), listener.current());
}

/// Earlier programs told a check without its number, kept the time of the first and what was said last.
#[test]
fn a_log_of_an_earlier_program_is_understood() {
    let study = Study::with().practice(0).sealed();
    let mut listener = study.listener(0);
    listener.begin();
    let before = study.events();
    let file = Connection::open(study.database()).unwrap();
    file.execute_batch("DROP TRIGGER event_is_never_changed")
        .unwrap();
    let mut previous = seal::Head::EMPTY.digest;
    for mut event in before {
        event.body = seal::Canonical::stored(
            event
                .body
                .as_str()
                .replace("\"number\":1,\"said\"", "\"said\""),
        );
        previous = seal::link(&previous, &event);
        file.execute(
            "UPDATE event SET body = ?1, digest = ?2 WHERE seq = ?3",
            (
                event.body.as_str(),
                previous.to_string(),
                i64::try_from(event.seq).unwrap(),
            ),
        )
        .unwrap();
    }
    let told = study.events();
    let check = told
        .iter()
        .find(|event| event.kind == "sound check")
        .unwrap();
    assert!(
        !check.body.as_str().contains("number"),
        "{}",
        check.body.as_str()
    );
    drop(file);
    assert_verified(&study);
}
