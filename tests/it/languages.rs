//! A language is one file: it is offered at the desk, spoken on every page of a listener and on her slip, and goes into a
//! backup. What a listener is refused is said in it too.

use std::fs;
use std::path::Path;

use fairhearing::app;
use fairhearing::app::Now;

use crate::program::run;
use crate::support::Desk;
use crate::support::Remote;
use crate::support::Server;
use crate::support::Study;
use crate::support::account;

const COMPILED_IN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/web/listener/texts");

/// A made-up language that runs from right to left: the English sentences between marks.
pub(crate) fn from_right_to_left() -> String {
    let english = fs::read_to_string(format!("{COMPILED_IN}/en.toml")).unwrap();
    let mut sections: toml::Table = english.parse().unwrap();
    for (section, sentences) in &mut sections {
        for (name, sentence) in sentences.as_table_mut().unwrap() {
            let said = match (section.as_str(), name.as_str()) {
                ("page", "direction") => "rtl".to_owned(),
                // Hebrew letters, so that browsers set them from the right.
                _ => format!("אב {} גד", sentence.as_str().unwrap()),
            };
            *sentence = said.into();
        }
    }
    sections.to_string()
}

/// A sentence of what listeners read, in a language that is compiled in or in the made-up one.
pub(crate) fn sentence(language: &str, section: &str, name: &str) -> String {
    let compiled_in = fs::read_to_string(format!("{COMPILED_IN}/{language}.toml"));
    let text = compiled_in.unwrap_or_else(|_| from_right_to_left());
    let sections: toml::Table = text.parse().unwrap();
    sections[section][name].as_str().unwrap().to_owned()
}

/// Writes a language into a study's folder.
pub(crate) fn add_language(folder: &Path, tag: &str, text: &str) {
    fs::create_dir_all(folder.join("languages")).unwrap();
    fs::write(folder.join(format!("languages/{tag}.toml")), text).unwrap();
}

/// Lets a study that is not sealed speak a language.
pub(crate) fn speak(study: &Study, tag: &str) {
    let settings = study.folder().join("study.toml");
    let text = fs::read_to_string(&settings).unwrap();
    fs::write(&settings, format!("{text}language = \"{tag}\"\n")).unwrap();
}

/// The tags of the files that are compiled in, as the folder of the source has them.
fn tags() -> Vec<String> {
    let files = fs::read_dir(COMPILED_IN).unwrap();
    let mut tags: Vec<_> = files
        .map(|file| file.unwrap().path())
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    tags.sort();
    tags
}

/// The choices of a `select`, in their order.
fn choices(page: &str) -> Vec<&str> {
    let options = page.split("<option value=\"").skip(1);
    options
        .map(|rest| rest.split('"').next().unwrap())
        .collect()
}

#[test]
fn every_language_there_is_a_file_of_can_be_chosen_and_is_printed_on_slips() {
    let study = Study::with().sealed();
    account(&study, "Ada", "researcher", &[]);
    add_language(&study.folder(), "yi-Latn", &from_right_to_left());
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let cookie = [("cookie", cookie.as_str())];
    let form = "what=personal&number=1&kind=naive";
    let made = desk.post("/desk/rounds/spring/invitations", form, &cookie);
    let slips = format!("{}/slips", made.header("location"));
    let settings = fs::read_to_string(study.folder().join("study.toml")).unwrap();
    let mut tags = tags();
    assert!(tags.contains(&"en".to_owned()) && tags.contains(&"es".to_owned()));
    tags.push("yi-Latn".to_owned());
    let mut titles = Vec::new();
    for tag in &tags {
        let spoken = format!("{settings}language = \"{tag}\"\n");
        fs::write(study.folder().join("study.toml"), spoken).unwrap();
        let page = desk.get(&slips, &cookie).text;
        let printed = &page[page.find("class=\"slips\"").unwrap()..];
        let direction = if tag == "yi-Latn" { "rtl" } else { "ltr" };
        let spoken = format!("class=\"slips\" lang=\"{tag}\" dir=\"{direction}\"");
        assert!(printed.starts_with(&spoken), "{printed}");
        let title = printed.split("<h2>").nth(1).unwrap();
        titles.push(title.split('<').next().unwrap().to_owned());
    }
    titles.sort();
    titles.dedup();
    assert_eq!(
        titles.len(),
        tags.len(),
        "each in its own words: {titles:?}"
    );
}

#[test]
fn the_settings_offer_each_language_and_take_no_other() {
    let study = Study::with().imported();
    account(&study, "Ada", "researcher", &[]);
    add_language(&study.folder(), "yi-Latn", &from_right_to_left());
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let cookie = [("cookie", cookie.as_str())];
    let mut tags = tags();
    tags.push("yi-Latn".to_owned());
    let page = desk.get("/desk/settings", &cookie).text;
    let mut offered = choices(&page);
    assert_eq!(offered.first(), Some(&"en"));
    offered.sort_unstable();
    tags.sort_unstable();
    assert_eq!(offered, tags);
    let form = |language: &str| {
        format!(
            "name=n&target=the+s+sound&phases=baseline%0Atreatment&cohorts=&words=&level_lufs=-27&language={language}"
        )
    };
    for tag in &tags {
        let kept = desk.post("/desk/settings", &form(tag), &cookie);
        assert_eq!(kept.status, 303, "{tag}: {}", kept.text);
        assert_eq!(study.workspace.settings().unwrap().language, *tag);
    }
    let refused = desk.post("/desk/settings", &form("xx"), &cookie);
    assert_eq!(refused.status, 422);
    let said = "There is no language `xx` here; choose one of en, ";
    assert!(refused.text.contains(said), "{}", refused.text);
    assert!(study.workspace.settings().unwrap().language != "xx");

    // What stood in the file before, as a newer program or another machine wrote it.
    let settings = study.folder().join("study.toml");
    let text = fs::read_to_string(&settings).unwrap();
    for (tag, spoken) in [("es-MX", "Español"), ("xx", "English")] {
        let line = format!("language = {tag:?}");
        let lines = text.lines().map(|kept| {
            let is_it = kept.starts_with("language = ");
            if is_it { line.as_str() } else { kept }
        });
        fs::write(&settings, lines.collect::<Vec<_>>().join("\n")).unwrap();
        let page = desk.get("/desk/settings", &cookie).text;
        let said = format!("{tag} (not there: the page is in {spoken})");
        assert!(page.contains(&said), "{said}");
    }
}

#[test]
fn a_language_with_an_empty_sentence_is_refused_at_the_start_with_its_name() {
    let study = Study::with().imported();
    let whole = from_right_to_left();
    let mut sections: toml::Table = whole.parse().unwrap();
    sections["rest"]["go_on"] = String::new().into();
    add_language(&study.folder(), "yi", &sections.to_string());
    let folder = study.folder().display().to_string();
    let ran = run(
        &["serve", "--workspace", &folder, "--listen", "127.0.0.1:0"],
        "",
    );
    let said = ran.refusal();
    assert!(
        said.contains("languages/yi.toml: leaves `rest.go_on` empty; say in this language: Go on"),
        "{said}"
    );
}

#[test]
fn the_languages_of_a_study_are_in_its_backup() {
    let study = Study::with().imported();
    add_language(&study.folder(), "yi", &from_right_to_left());
    let elsewhere = tempfile::tempdir().unwrap();
    let (backup, restored) = (elsewhere.path().join("b"), elsewhere.path().join("r"));
    app::back_up(&study.workspace, &backup, Now::read()).unwrap();
    app::restore(&backup, &restored).unwrap();
    let text = fs::read_to_string(restored.join("languages/yi.toml")).unwrap();
    assert_eq!(text, from_right_to_left());
}

const AS_A_FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");
const ENGLISH_BROWSER: (&str, &str) = ("accept-language", "en-GB,en;q=0.9");

#[tokio::test]
async fn what_a_listener_is_refused_is_said_in_the_language_of_the_study() {
    let mut study = Study::with()
        .words(1)
        .texts("assent = \"Puede dejarlo.\"\n".to_owned())
        .imported();
    speak(&study, "es");
    study.round = Some(study.seal(&study.with).unwrap());
    let server = Server::start(&study.folder());
    let mut listener = Remote::new(&server.address);
    listener.get(&study.links()[0].path).await;
    listener.get("/listen").await;
    let elsewhere = ("origin", "https://elsewhere.example");
    let minor = "version=1&agreed=yes&age=minor";
    for (status, method, path, more, body, said) in [
        (
            422,
            "POST",
            "/listen/consent",
            None,
            minor,
            "Con menos de 18 años",
        ),
        (
            422,
            "POST",
            "/listen/consent",
            None,
            "age",
            "Esto no se pudo leer",
        ),
        (
            403,
            "POST",
            "/listen/consent",
            Some(elsewhere),
            minor,
            "Esto llegó desde otro sitio",
        ),
        (
            404,
            "GET",
            "/l/unknown",
            None,
            "",
            "Aquí no se conoce este enlace",
        ),
        (
            404,
            "GET",
            "/listen/nowhere",
            None,
            "",
            "Abra una vez más, entero, el enlace",
        ),
        (
            404,
            "GET",
            "/nowhere",
            None,
            "",
            "Abra una vez más, entero, el enlace",
        ),
        (
            404,
            "PUT",
            "/listen/consent",
            None,
            "",
            "Abra una vez más, entero, el enlace",
        ),
    ] {
        let mut headers = vec![AS_A_FORM, ENGLISH_BROWSER];
        headers.extend(more);
        let refused = listener.ask(method, path, &headers, body.to_owned()).await;
        let text = refused.text();
        assert_eq!(refused.status, status, "{path}: {text}");
        assert!(text.contains(said), "{path}: {text}");
        assert!(
            text.contains("<html lang=\"es\" dir=\"ltr\">"),
            "{path}: {text}"
        );
    }
    let headers = [("content-type", "application/json"), ENGLISH_BROWSER];
    let body = "{}".to_owned();
    let refused = listener
        .ask("PUT", "/listen/judgement/x", &headers, body)
        .await;
    let told = refused.json();
    let title = told["title"].as_str().unwrap().to_owned();
    let spanish = fs::read_to_string(format!("{COMPILED_IN}/es.toml")).unwrap();
    assert!(spanish.contains(&format!("\"{title}\"")), "{title}");
    // What staff meet stays English.
    let desk = listener.get("/desk/nowhere").await;
    assert!(desk.text().contains("<html lang=\"en\""), "{}", desk.text());
}

#[tokio::test]
async fn a_laptop_that_is_handed_round_refuses_in_the_language_of_the_study() {
    let mut study = Study::with().words(1).imported();
    speak(&study, "es");
    study.round = Some(study.seal(&study.with).unwrap());
    let (laptop, _) = Server::start_for_one_laptop(&study.folder());
    let mut listener = Remote::new(&laptop.address);
    for (status, method, path) in [(404, "GET", "/nowhere"), (422, "POST", "/start")] {
        let headers = [AS_A_FORM, ENGLISH_BROWSER];
        let refused = listener.ask(method, path, &headers, String::new()).await;
        assert_eq!(refused.status, status, "{path}");
        let text = refused.text();
        assert!(text.contains("<html lang=\"es\""), "{path}: {text}");
    }
}
