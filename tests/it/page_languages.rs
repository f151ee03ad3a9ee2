//! The listener's page speaks one language at a time.

use std::io::Write;

use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;

const ENGLISH: &str = include_str!("../../src/web/listener/texts/en.toml");

const COURSE: &str = "
[practice]
pass = 1.0
tries = 2
[rests]
every = 2
[sound_check]
headphones = \"record\"
[questions]
ask = [\"age\", \"first-language\", \"acquaintance\", \"hearing\", \"experience\"]
";

/// What a listener's page may do, and nothing else.
const POLICY: &str = "default-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'";

/// Tags that hold a script or a style of their own.
fn within(page: &str) -> Vec<&str> {
    let tags = page
        .split('<')
        .skip(1)
        .filter_map(|rest| rest.split('>').next());
    tags.filter(|tag| {
        let begins = |name: &str| tag.split_whitespace().next() == Some(name);
        let attribute = |name: &str| tag.split_whitespace().any(|part| part.starts_with(name));
        let acts = tag
            .split_whitespace()
            .skip(1)
            .any(|part| part.starts_with("on") && part.contains("=\""));
        begins("style")
            || attribute("style=")
            || acts
            || begins("script") && !attribute("src=\"/assets/")
    })
    .collect()
}

#[test]
fn a_script_or_a_style_within_a_page_would_be_found() {
    for found in [
        "<script>x",
        "<p style=\"x\">",
        "<style>x",
        "<p id=\"a\" onclick=\"x()\">",
        "<script src=\"https://x\">",
    ] {
        assert_eq!(within(found).len(), 1, "{found}");
    }
    let page = "<script type=\"module\" src=\"/assets/x\"></script><p class=\"style\">once</p>";
    assert_eq!(within(page), Vec::<&str>::new());
}

/// The longest stretches of the English sentences that hold nothing to fill in.
fn english() -> Vec<String> {
    let sections: toml::Table = toml::from_str(ENGLISH).unwrap();
    let sentences = sections
        .values()
        .flat_map(|section| section.as_table().unwrap().values());
    sentences
        .flat_map(|sentence| {
            let pieces = sentence.as_str().unwrap().split(['{', '}']);
            pieces.map(str::to_owned).collect::<Vec<_>>()
        })
        .filter(|piece| piece.chars().count() > 12)
        .collect()
}

#[tokio::test]
async fn a_study_in_spanish_shows_no_english_sentence() {
    let mut study = Study::with()
        .words(1)
        .open(2)
        .practice(2)
        .course(COURSE.to_owned())
        .texts("assent = \"Puede dejarlo.\"\npayment = \"Nada cambia.\"\n".to_owned())
        .imported();
    let settings = study.folder().join("study.toml");
    let mut file = std::fs::OpenOptions::new()
        .append(true)
        .open(settings)
        .unwrap();
    writeln!(file, "language = \"es\"").unwrap();
    study.round = Some(study.seal(&study.with).unwrap());
    let server = Server::start(&study.folder());
    let mut remote = Remote::new(&server.address);
    remote.get(&study.links()[0].path).await;
    for (page, form) in [
        ("consent", "version=1&agreed=yes&age=adult"),
        (
            "questions",
            "age=not-said&first-language=another&acquaintance=no&hearing=not-said&experience=work",
        ),
        ("sound-check", "device=built-in&heard=yes"),
        ("begin", ""),
    ] {
        remote.get("/listen").await;
        let sent = remote.post(&format!("/listen/{page}"), form).await;
        assert_eq!(sent.status, 303, "{page}");
    }
    remote.get("/listen").await;
    // Practice that is not passed, practice that need not be, three rests.
    for _ in 0..5 {
        while let Some(id) = remote.ahead().await.first() {
            remote.judge(id, "correct").await;
        }
        remote.get("/listen").await;
        remote.post("/listen/go-on", "").await;
    }
    remote.get("/listen/later").await;
    remote.post("/listen/closing", "").await;
    remote.get("/listen").await;
    let spanish = [("accept-language", "es-MX,es;q=0.9,en;q=0.5")];
    remote
        .ask("GET", "/l/unknown", &spanish, String::new())
        .await;
    remote.get("/withdraw").await;
    remote.post("/withdraw", "receipt=hello&sure=yes").await;
    let open = study.open_link().path.clone();
    let mut second = Remote::new(&server.address);
    second.get(&open).await;
    second.post(&open, "").await;
    second.get("/listen/way-back").await;
    let (laptop, codes) = Server::start_for_one_laptop(&study.folder());
    let mut third = Remote::new(&laptop.address);
    third.get("/start").await;
    third.post("/start", &format!("code={}", codes[1])).await;
    third.get("/hand-over").await;
    let all = [remote.received, second.received, third.received].concat();
    let pages: Vec<_> = all
        .iter()
        .filter(|received| {
            received
                .header("content-type")
                .is_some_and(|kind| kind.starts_with("text/html"))
        })
        .collect();
    assert_eq!(pages.len(), 19);
    for page in pages {
        let text = page.text();
        assert_eq!(
            page.header("content-security-policy"),
            Some(POLICY),
            "{}",
            page.asked
        );
        assert_eq!(within(&text), Vec::<&str>::new(), "{}", page.asked);
        assert!(
            text.contains("<html lang=\"es\" dir=\"ltr\">"),
            "{}: {text}",
            page.asked
        );
        for sentence in english() {
            assert!(!text.contains(&sentence), "{}: {sentence}", page.asked);
        }
    }
}
