//! The pages around the words, through HTTP: consent, questions, sound check, rests, and what is
//! kept and exported of them.

use fairhearing::app;
use fairhearing::app::Now;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const QUESTIONS: &str = "
[practice]
pass = 0.0
[rests]
every = 3
minutes_a_day = 0
[sound_check]
first_sound = \"record\"
headphones = \"record\"
[questions]
ask = [\"first-language\", \"hearing\", \"acquaintance\"]
[[questions.own]]
name = \"region\"
ask = \"Where did you grow up?\"
choices = [\"On the coast\", \"=Inland\"]
";

const ANSWERED: &str =
    "first-language=several&hearing=not-said&acquaintance=perhaps&region=%3DInland";

async fn at_the_questions(study: &Study, server: &Server) -> Remote {
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let agreed = remote.post("/listen/consent", "version=1&agreed=yes").await;
    assert_eq!(agreed.status, 303);
    remote
}

#[tokio::test]
async fn questions_are_asked_once_and_their_answers_come_out_as_choices() {
    let study = Study::with().course(QUESTIONS.to_owned()).sealed();
    let server = Server::start(&study.folder());
    let mut remote = at_the_questions(&study, &server).await;
    let page = remote.get("/listen").await.text();
    for question in ["first-language", "hearing", "acquaintance", "region"] {
        let not_said = format!("name=\"{question}\" value=\"not-said\"");
        assert!(page.contains(&not_said), "{question}: {page}");
    }
    assert!(page.contains("English and another language"), "{page}");
    let early = "device=built-in&heard=yes";
    assert_eq!(remote.post("/listen/sound-check", early).await.status, 409);
    for incomplete in [
        "first-language=several&hearing=not-said&acquaintance=perhaps",
        "first-language=several&hearing=well&acquaintance=no&region=On+the+coast",
    ] {
        let refused = remote.post("/listen/questions", incomplete).await;
        assert_eq!(refused.status, 422);
        assert!(refused.text().contains("A question has no answer yet"));
    }
    assert_eq!(remote.post("/listen/questions", ANSWERED).await.status, 303);
    let other = ANSWERED.replace("several", "another");
    assert_eq!(remote.post("/listen/questions", &other).await.status, 303);
    let page = remote.get("/listen").await.text();
    assert!(page.contains("id=\"check\""), "the sound check comes next");

    let checked = "device=wireless&heard=yes&level_db=-9&first_right=2&first_of=3&first_tries=2\
                   &headphones_right=6&headphones_of=6&headphones_tries=1";
    assert_eq!(
        remote.post("/listen/sound-check", checked).await.status,
        303
    );
    sit(&mut remote).await;
    remote
        .post(
            "/listen/closing",
            "told_early_from_late=sometimes&remark=A+secret+remark",
        )
        .await;
    drop(server);

    let round = &study.round.as_ref().unwrap().round;
    app::close(&study.workspace, round, Now::read()).unwrap();
    app::unlock(&study.workspace, round, Now::read()).unwrap();
    let unlocked = app::unlocked(&study.workspace, round).unwrap();
    let findings = app::findings(&study.workspace, &unlocked).unwrap();
    let table = |name: &str| {
        let file = findings
            .tables
            .iter()
            .find(|file| file.name == name)
            .unwrap();
        let text = String::from_utf8(file.content.clone()).unwrap();
        text.replace(&study.links()[0].listener.to_string(), "her")
    };
    assert_eq!(
        table("listener_answers.csv"),
        "listener,question,answer\r\nher,first-language,several\r\nher,hearing,not-said\r\n\
         her,acquaintance,perhaps\r\nher,region,'=Inland\r\nher,told-early-from-late,sometimes\r\n"
    );
    assert!(
        table("sound_checks.csv").contains("her,1,wireless,true,-9,2,3,2,6,6,1\r\n"),
        "{}",
        table("sound_checks.csv")
    );
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
    let log = study.events();
    let said = log.iter().find(|event| event.kind == "answers").unwrap();
    assert!(
        !said.body.as_str().contains("several"),
        "the log holds a digest only"
    );
}

#[tokio::test]
async fn what_others_heard_is_told_in_the_study_s_own_words() {
    let study = Study::with()
        .practice(3)
        .practice_answers(&["correct", "distorted", "divided"])
        .texts("correct = \"sounds right\"\ndistorted = \"sounds off\"\n".to_owned())
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    for (page, form) in [
        ("consent", "version=1&agreed=yes"),
        ("sound-check", "device=built-in&heard=yes"),
    ] {
        let sent = remote.post(&format!("/listen/{page}"), form).await;
        assert_eq!(sent.status, 303, "{page}");
    }
    let told = remote.get("/listen").await.text();
    for example in ["heard as “sounds right”", "heard as “sounds off”"] {
        assert!(told.contains(example), "{example}: {told}");
    }
    assert_eq!(remote.post("/listen/begin", "").await.status, 303);
    let page = remote.get("/listen").await.text();
    for sentence in [
        "This one was heard as “sounds right”.",
        "This one was heard as “sounds off”.",
        "Listeners were divided on this one. Either answer is fair.",
    ] {
        assert!(page.contains(sentence), "{sentence}: {page}");
    }
    let mut feedback = Vec::new();
    for _ in 0..4 {
        let ahead = remote.ahead().await;
        let said = remote.judge(&ahead[0], "correct").await.json();
        feedback.push(said["feedback"].as_str().unwrap_or_default().to_owned());
    }
    assert_eq!(
        feedback.pop().unwrap(),
        "",
        "no feedback after the practice"
    );
    feedback.sort();
    assert_eq!(feedback, ["correct", "distorted", "divided"]);
}

/// From the sound check through every word and rest; says how many rests there were.
async fn sit(remote: &mut Remote) -> usize {
    assert_eq!(remote.post("/listen/begin", "").await.status, 303);
    let mut rests = 0;
    loop {
        while let Some(id) = remote.ahead().await.first() {
            assert_eq!(remote.judge(id, "correct").await.status, 200);
        }
        let page = remote.get("/listen").await.text();
        if !page.contains("action=\"/listen/go-on") {
            return rests;
        }
        rests += 1;
        assert_eq!(remote.post("/listen/go-on", "").await.status, 303);
    }
}

#[tokio::test]
async fn a_rest_offers_the_examples_and_both_ways_on() {
    let study = Study::with()
        .course(QUESTIONS.replace(
            "ask = [\"first-language\", \"hearing\", \"acquaintance\"]\n",
            "",
        ))
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = at_the_questions(&study, &server).await;
    remote.post("/listen/questions", "region=not-said").await;
    remote
        .post(
            "/listen/sound-check",
            "device=built-in&heard=yes&first_right=&first_of=&first_tries=",
        )
        .await;
    remote.post("/listen/begin", "").await;
    while let Some(id) = remote.ahead().await.first() {
        remote.judge(id, "distorted").await;
    }
    let rest = remote.get("/listen").await.text();
    assert!(rest.contains("You have heard 4 of 18 words."), "{rest}");
    assert_eq!(rest.matches("data-sound=").count(), 2, "{rest}");
    let later = remote.get("/listen/later").await.text();
    assert!(later.contains("Until another day"), "{later}");
    let again = remote.get("/listen").await.text();
    assert_eq!(again, rest, "her place waits");
    assert_eq!(sit(&mut remote).await, 5);
}

#[tokio::test]
async fn a_minor_agrees_only_with_a_guardian() {
    let study = Study::with()
        .texts("assent = \"You may stop whenever you like.\"\n".to_owned())
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let page = remote.get("/listen").await.text();
    assert!(page.contains("You may stop whenever you like."), "{page}");
    for form in [
        "version=1&agreed=yes",
        "version=1&agreed=yes&age=minor",
        "version=1&agreed=yes&age=minor&guardian=no",
        "version=1&agreed=yes&age=old",
    ] {
        assert_eq!(
            remote.post("/listen/consent", form).await.status,
            422,
            "{form}"
        );
    }
    let alone = "version=1&agreed=yes&age=minor";
    let told = remote.post("/listen/consent", alone).await.text();
    assert!(told.contains("a parent or guardian agrees too"), "{told}");
    let agreed = "version=1&agreed=yes&age=minor&guardian=yes";
    assert_eq!(remote.post("/listen/consent", agreed).await.status, 303);
    let log = study.events();
    let consent = log.iter().find(|event| event.kind == "consent").unwrap();
    assert!(consent.body.as_str().contains("\"assent\":\"minor\""));
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[tokio::test]
async fn the_consent_says_what_an_early_end_means_for_a_payment() {
    let study = Study::with()
        .texts("payment = \"It is paid in full all the same.\"\n".to_owned())
        .screening("rules = [{ rule = \"min-checks-right\", right = 1 }]".to_owned())
        .sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    let page = remote.get("/listen").await.text();
    for sentence in [
        "It is paid in full all the same.",
        "A sitting may end before its last word",
        "kept apart from your answers",
        "I will not record the voices or pass them on.",
        "Later is as good as now.",
        "About 6 minutes",
        "about 1 MB of sound",
        "A quiet room",
    ] {
        assert!(page.contains(sentence), "{sentence}: {page}");
    }
}

/// Of a sound check that the plan requires: what is sent, and whether she hears the round.
const CHECKS: &[(&str, bool)] = &[
    (
        "&first_right=3&first_of=3&first_tries=2&headphones_right=5&headphones_of=6&headphones_tries=1",
        true,
    ),
    (
        "&first_right=2&first_of=3&first_tries=9&headphones_right=6&headphones_of=6&headphones_tries=1",
        false,
    ),
    (
        "&first_right=3&first_of=3&first_tries=1&headphones_right=4&headphones_of=6&headphones_tries=1",
        false,
    ),
    ("", false),
];

#[tokio::test]
async fn a_sound_that_does_not_do_is_thanked_for_only_where_the_plan_requires_it() {
    for required in ["require", "record"] {
        let course =
            format!("[sound_check]\nfirst_sound = \"{required}\"\nheadphones = \"{required}\"\n");
        let study = Study::with()
            .practice(0)
            .listeners(CHECKS.len().try_into().unwrap())
            .course(course)
            .sealed();
        let server = Server::start(&study.folder());
        for ((sent, does), link) in CHECKS.iter().zip(study.links()) {
            let mut remote = Remote::new(&server.address);
            remote.get(&link.path).await;
            remote.post("/listen/consent", "version=1&agreed=yes").await;
            let form = format!("device=built-in&heard=yes{sent}");
            assert_eq!(remote.post("/listen/sound-check", &form).await.status, 303);
            let page = remote.get("/listen").await.text();
            let hears = *does || required == "record";
            assert_eq!(
                page.contains("Thank you for trying"),
                !hears,
                "{sent}: {page}"
            );
            let status = if hears { 303 } else { 409 };
            assert_eq!(remote.post("/listen/begin", "").await.status, status);
            // Said again it changes nothing; who was left out may check once more.
            assert_eq!(remote.post("/listen/sound-check", &form).await.status, 303);
            let page = remote.get("/listen").await.text();
            assert_eq!(page.contains("/listen/check-again"), !hears, "{page}");
        }
        let verified = app::verify(&study.workspace, &[]).unwrap();
        assert_eq!(verified.findings, Vec::<String>::new());
    }
}

#[tokio::test]
async fn a_voice_that_was_known_is_not_asked_about_again() {
    let study = Study::with().practice(0).warm_ups(0).checks(0).sealed();
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.begin(&study.links()[0].path).await;
    let known = remote.ahead().await[0].clone();
    let aside = format!("/listen/aside/{known}");
    let said = remote
        .put(&aside, &serde_json::json!({"reason": "known-speaker"}))
        .await;
    assert_eq!(said.status, 200);
    while let Some(id) = remote.ahead().await.first() {
        remote.judge(id, "correct").await;
    }
    let closing = remote.get("/listen").await.text();
    assert!(closing.contains("told_early_from_late"), "{closing}");
    assert!(!closing.contains("knew_a_voice"), "{closing}");
    remote.post("/listen/closing", "").await;
    let said = study
        .store()
        .read(|reading| reading.said(reading.rounds()?[0].id))
        .unwrap();
    let closing = said[0].closing.clone().unwrap();
    assert!(closing.contains("\"knew_a_voice\":\"yes\""), "{closing}");
}
