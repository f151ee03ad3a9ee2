//! What listeners are told around the words: what it asks of them, what follows from a check, and no
//! link where there is none.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::store::StoreError;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const PLAIN: &str = "[practice]\npass = 0.0\n[rests]\nevery = 0\nminutes_a_day = 0\n";

#[track_caller]
fn assert_verified(study: &Study) {
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

async fn page(remote: &mut Remote) -> String {
    remote.get("/listen").await.text()
}

#[tokio::test]
async fn an_open_link_tells_what_it_asks_before_it_takes_a_place() {
    let study = Study::with()
        .open(2)
        .sittings(2)
        .tokens_per_sitting(6)
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    let open = remote.get(&study.open_link().path).await.text();
    for told in [
        "2 sittings of about ",
        " minutes",
        "MB of sound",
        "A quiet room",
        "Later is as good as now",
    ] {
        assert!(open.contains(told), "{told}: {open}");
    }
    let enrolled = study.events();
    assert!(
        enrolled
            .iter()
            .all(|event| event.kind != "listener enrolled")
    );
}

#[tokio::test]
async fn nobody_is_asked_for_one_go_whom_the_plan_stops_in_between() {
    let course = format!("{PLAIN}words_a_day = 5\n[sound_check]\nfirst_sound = \"off\"\n");
    let study = Study::with().course(course).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let consent = page(&mut remote).await;
    assert!(!consent.contains("in one go"), "{consent}");
    assert!(consent.contains("not all at once: over "), "{consent}");
}

const ASSENT: &str = "assent = \"Young people may take part too.\"\n";

fn asking(questions: &str) -> Study {
    let course =
        format!("{PLAIN}[sound_check]\nfirst_sound = \"off\"\n[questions]\nask = {questions}\n");
    Study::with()
        .course(course)
        .texts(ASSENT.to_owned())
        .sealed()
}

fn answers(study: &Study) -> Vec<Option<String>> {
    let rows = study.store().read(|reading| {
        let rows = reading.enrolments(reading.rounds()?[0].id)?;
        Ok::<_, StoreError>(rows)
    });
    rows.unwrap().into_iter().map(|row| row.answers).collect()
}

const MINOR: &str = "version=1&agreed=yes&age=minor&guardian=yes";
const ADULT: &str = "version=1&agreed=yes&age=adult";

#[tokio::test]
async fn an_age_is_asked_once_and_never_contradicts_how_she_agreed() {
    let study = asking("[\"age\", \"hearing\"]");
    let server = Server::start(&study.folder());
    let mut minor = Remote::new(&server.address);
    minor.get(&study.links()[0].path).await;
    assert_eq!(minor.post("/listen/consent", MINOR).await.status, 303);
    let asked = page(&mut minor).await;
    assert!(asked.contains("name=\"hearing\""), "{asked}");
    assert!(!asked.contains("name=\"age\""), "{asked}");
    let said = minor
        .post("/listen/questions", "hearing=not-said&age=45-59")
        .await;
    assert_eq!(said.status, 303);

    let mut adult = Remote::new(&server.address);
    adult.get(&study.links()[1].path).await;
    assert_eq!(adult.post("/listen/consent", ADULT).await.status, 303);
    let asked = page(&mut adult).await;
    assert!(asked.contains("value=\"18-29\""), "{asked}");
    assert!(!asked.contains("under-18"), "{asked}");
    let young = adult
        .post("/listen/questions", "hearing=not-said&age=under-18")
        .await;
    assert_eq!(young.status, 422);
    let said = adult
        .post("/listen/questions", "hearing=not-said&age=30-44")
        .await;
    assert_eq!(said.status, 303);
    let kept = answers(&study);
    assert_eq!(
        kept,
        [
            Some("{\"age\":\"under-18\",\"hearing\":\"not-said\"}".to_owned()),
            Some("{\"age\":\"30-44\",\"hearing\":\"not-said\"}".to_owned()),
        ]
    );
    assert_verified(&study);
}

#[tokio::test]
async fn a_minor_of_whom_only_the_age_is_asked_is_asked_nothing_more() {
    let study = asking("[\"age\"]");
    let server = Server::start(&study.folder());
    let mut minor = Remote::new(&server.address);
    minor.get(&study.links()[0].path).await;
    assert_eq!(minor.post("/listen/consent", MINOR).await.status, 303);
    assert!(page(&mut minor).await.contains("id=\"check\""));
    let kept = answers(&study);
    assert_eq!(kept[0].as_deref(), Some("{\"age\":\"under-18\"}"));
    assert_verified(&study);
}

fn checked(right: u32) -> String {
    format!(
        "device=wireless&heard=yes&level_db=-9&headphones_right={right}&headphones_of=6&headphones_tries=1"
    )
}

#[tokio::test]
async fn a_required_check_offers_no_way_past_it_and_can_be_done_once_more() {
    let course =
        format!("{PLAIN}[sound_check]\nfirst_sound = \"require\"\nheadphones = \"require\"\n");
    let study = Study::with().practice(0).course(course).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    remote.post("/listen/consent", "version=1&agreed=yes").await;
    let check = page(&mut remote).await;
    assert!(!check.contains("or go on as it is"), "{check}");
    assert!(check.contains("silent switch"), "{check}");
    assert!(
        check.contains("wrong for about one listener in five"),
        "{check}"
    );
    let first = "&first_right=3&first_of=3&first_tries=1";
    let failed = format!("{}{first}", checked(2));
    assert_eq!(
        remote.post("/listen/sound-check", &failed).await.status,
        303
    );
    let out = page(&mut remote).await;
    assert!(out.contains("such a check can be wrong"), "{out}");
    assert!(out.contains("href=\"/listen/check-again\""), "{out}");
    assert_eq!(remote.get("/listen/ahead").await.status, 409);
    let again = remote.get("/listen/check-again").await.text();
    assert!(again.contains("id=\"check\""), "{again}");
    let passed = format!("{}{first}", checked(6));
    assert_eq!(
        remote.post("/listen/sound-check", &passed).await.status,
        303
    );
    assert!(page(&mut remote).await.contains("action=\"/listen/begin"));
    let nothing = remote.get("/listen/check-again").await;
    assert_eq!(nothing.header("location"), Some("/listen"));
    assert_verified(&study);
}

#[tokio::test]
async fn a_check_that_is_only_recorded_lets_her_go_on_as_it_is() {
    let course = format!("{PLAIN}[sound_check]\nheadphones = \"record\"\n");
    let study = Study::with().course(course).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    remote.post("/listen/consent", "version=1&agreed=yes").await;
    let check = page(&mut remote).await;
    assert_eq!(check.matches("or go on as it is").count(), 2, "{check}");
}

#[tokio::test]
async fn where_no_word_is_shown_none_is_shown_with_the_examples_either() {
    for show_word in [true, false] {
        let study = Study::with().show_word(show_word).sealed();
        let server = Server::start(&study.folder());
        let mut remote = Remote::new(&server.address);
        remote.get(&study.links()[0].path).await;
        remote.post("/listen/consent", "version=1&agreed=yes").await;
        remote.check_sound().await;
        let told = page(&mut remote).await;
        assert!(told.contains("class=\"examples\""), "{told}");
        assert_eq!(told.contains("class=\"word-small\""), show_word, "{told}");
        assert_eq!(told.contains("marked in each word"), show_word, "{told}");
        assert!(told.contains("Leave everything else out of account"));
    }
}

#[tokio::test]
async fn whoever_sits_at_one_laptop_is_told_of_no_link_and_to_hand_it_over() {
    let study = Study::with().practice(0).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    let mut laptop = Remote::new(&server.address);
    laptop.post("/start", &format!("code={}", codes[0])).await;
    let consent = page(&mut laptop).await;
    assert!(consent.contains("hand the laptop over"), "{consent}");
    let later = laptop.get("/listen/later").await.text();
    for pages in [&consent, &later] {
        assert!(!pages.contains(" link"), "{pages}");
        assert!(!pages.contains("close th"), "{pages}");
    }
    assert!(
        later.contains("with your code where you stopped"),
        "{later}"
    );
    assert!(
        later.contains("class=\"button\" href=\"/hand-over\""),
        "{later}"
    );
    let round = study.round.as_ref().unwrap().round.clone();
    app::pause(&study.workspace, &round, Now::read()).unwrap();
    let paused = page(&mut laptop).await;
    assert!(
        paused.contains("with your code where you stopped"),
        "{paused}"
    );
    assert!(!paused.contains(" link"), "{paused}");
}
