//! The whole story of a study in a browser, from the first account to a family that leaves, with the program as it is
//! installed and nothing but its pages.

use std::path::Path;
use std::time::Duration;

use fantoccini::Locator;
use serde_json::Value;
use serde_json::json;

use crate::browser_desk::type_in;
use crate::program::run;
use crate::support::Browser;
use crate::support::PASSWORD;
use crate::support::Remote;
use crate::support::Server;
use crate::support::key;
use crate::support::spoken;
use crate::support::wav_16_bit;

const CHILDREN: [&str; 3] = ["C01", "C02", "C03"];
const WORDS: [&str; 10] = [
    "sail", "soap", "sun", "sock", "seed", "mussel", "bus", "house", "mast", "nest",
];

/// Two of the recordings are spoilt: one has a phase that the study does not know in its name, one holds no sound.
const MISNAMED: &str = "C02_3_treatmnet_soap.wav";
const BROKEN: &str = "C01_2_baseline_sun.wav";

#[tokio::test(flavor = "multi_thread")]
async fn a_study_from_its_first_account_to_a_family_that_leaves() {
    let folder = tempfile::tempdir().unwrap();
    let study = folder.path().join("study");
    let made = run(&["new", study.to_str().unwrap()], "");
    assert_eq!(made.status, 0, "{}", made.err);
    let (server, first) = Server::start_new(&study);
    let desk = At {
        browser: Browser::open().await,
        address: server.address.clone(),
    };
    make_the_first_account(&desk, &first).await;
    set_the_study_up(&desk).await;
    import_with_two_problems(&desk, folder.path()).await;
    note_the_consents(&desk).await;
    leave_one_recording_out(&desk).await;
    let links = design_seal_and_invite(&desk).await;
    follow_two_listeners(&desk, &links).await;
    close_and_unlock(&desk).await;
    // Of the third phase there is nothing: twelve sessions of three children.
    read_the_results(&desk, &CHILDREN).await;
    download_an_export(&desk, "C03").await;
    erase_the_last_child(&desk).await;
    read_the_results(&desk, &CHILDREN[..2]).await;
    desk.browser.close().await;
    drop(server);
    let verified = run(
        &["verify", "--workspace", study.to_str().unwrap(), "--json"],
        "",
    );
    assert_eq!(verified.json()["findings"], json!([]));
}

/// A researcher's browser at the desk.
struct At {
    browser: Browser,
    address: String,
}

impl At {
    async fn go(&self, path: &str) {
        self.browser.go(&format!("{}{path}", self.address)).await;
    }

    async fn until_at(&self, path: &str) {
        self.browser
            .until(&format!("return location.pathname === {path:?}"))
            .await;
    }

    async fn until_heading(&self, heading: &str) {
        self.browser
            .until(&format!(
                "return document.querySelector('h1').textContent === {heading:?}"
            ))
            .await;
    }

    /// Waits for the end of an import: every recording is prepared first.
    async fn until_ended(&self, heading: &str) {
        let script = format!("return document.querySelector('h1').textContent === {heading:?}");
        let patience = Duration::from_mins(5);
        self.browser.until_within(patience, &script).await;
    }

    async fn until_there(&self, css: &str) {
        self.browser
            .until(&format!("return document.querySelector({css:?}) !== null"))
            .await;
    }

    async fn text(&self, css: &str) -> String {
        let text = self
            .browser
            .js(&format!("return document.querySelector({css:?}).innerText"))
            .await;
        text.as_str().unwrap().to_owned()
    }

    async fn choose_file(&self, css: &str, paths: &[String]) {
        let field = self.browser.client.find(Locator::Css(css)).await.unwrap();
        field.send_keys(&paths.join("\n")).await.unwrap();
    }

    /// Opens what is folded away around a field.
    async fn open_around(&self, css: &str) {
        self.browser
            .js(&format!(
                "document.querySelector({css:?}).closest('details').open = true"
            ))
            .await;
    }
}

async fn make_the_first_account(desk: &At, first: &str) {
    desk.browser.go(first).await;
    type_in(&desk.browser, "#name", "Ada").await;
    type_in(&desk.browser, "#password", PASSWORD).await;
    type_in(&desk.browser, "#again", PASSWORD).await;
    desk.browser.click("form .button").await;
    desk.until_at("/desk").await;
}

async fn set_the_study_up(desk: &At) {
    desk.browser.click("a[href='/desk/settings']").await;
    desk.until_at("/desk/settings").await;
    type_in(&desk.browser, "#name", "Harbour words").await;
    type_in(&desk.browser, "#phases", "baseline\ntreatment").await;
    type_in(
        &desk.browser,
        "#words",
        "[s]ail\n[s]oap\n[s]un\n[s]ock\n[s]eed\nmu[ss]el\nbu[s]\nhou[s]e\nma[s]t\nne[s]t",
    )
    .await;
    desk.browser.click("form.form .button").await;
    desk.browser
        .until("return document.body.innerText.includes('Harbour words')")
        .await;
    desk.go("/desk").await;
    desk.until_heading("Harbour words").await;
}

/// A hundred and twenty recordings: three children, four sessions, ten words; their names tell it.
fn recordings(folder: &Path) -> Vec<String> {
    let mut paths = Vec::new();
    for child in CHILDREN {
        for (session, phase) in [
            (1, "baseline"),
            (2, "baseline"),
            (3, "treatment"),
            (4, "treatment"),
        ] {
            for word in WORDS {
                let mut name = format!("{child}_{session}_{phase}_{word}.wav");
                if name == MISNAMED.replace("treatmnet", "treatment") {
                    MISNAMED.clone_into(&mut name);
                }
                let number = u32::try_from(paths.len()).unwrap() + 1;
                let bytes = if name == BROKEN {
                    b"no sound".to_vec()
                } else {
                    wav_16_bit(&spoken(number))
                };
                let path = folder.join(&name);
                std::fs::write(&path, bytes).unwrap();
                paths.push(path.display().to_string());
            }
        }
    }
    assert_eq!(paths.len(), 120);
    paths
}

async fn import_with_two_problems(desk: &At, folder: &Path) {
    let browser = &desk.browser;
    desk.go("/desk/import").await;
    browser.click("form[action='/desk/import'] button").await;
    desk.until_there("[data-drop]").await;
    desk.choose_file("[name=files]", &recordings(folder)).await;
    // The rows come from the names.
    desk.until_there("[name=pattern]").await;
    desk.open_around("[name=pattern]").await;
    type_in(
        browser,
        "[name=pattern]",
        "{child}_{session}_{phase}_{word}",
    )
    .await;
    browser
        .until("return document.getElementById('preview').innerText.includes('120 files fit; 1 problem to mend')")
        .await;
    browser.click("form[action$='/manifest'] button").await;
    // The first problem: a phase.
    desk.until_there("#problems li a").await;
    let said = desk.text("#problems li").await;
    assert!(said.contains("treatmnet"), "{said}");
    browser.click("#problems li a").await;
    desk.until_there("[name=phase][aria-invalid]").await;
    type_in(browser, "[name=phase]", "treatment").await;
    browser.click("section form .button:not(.second)").await;
    browser
        .until("return document.getElementById('rows') !== null && document.querySelector('#problems li') === null")
        .await;
    // The sound check needs a word that no round judges: the last one is it.
    let import = browser.js("return location.pathname").await;
    desk.go(&format!("{}/rows/121", import.as_str().unwrap()))
        .await;
    type_in(browser, "[name=use]", "warm-up").await;
    browser.click("section form .button:not(.second)").await;
    desk.until_there("#end .button").await;
    // The second shows when the recordings are decoded.
    browser.click("#end .button").await;
    desk.until_ended("Nothing was imported").await;
    browser.click("[href$='#problems']").await;
    desk.until_there("#problems li a").await;
    let said = desk.text("#problems li").await;
    assert!(said.contains(BROKEN), "{said}");
    browser.click("#problems li a").await;
    desk.until_there("[name=recording]").await;
    let mended = folder.join("mended.wav");
    std::fs::write(&mended, wav_16_bit(&spoken(500))).unwrap();
    desk.choose_file("[name=recording]", &[mended.display().to_string()])
        .await;
    browser.click("[action$='/recording'] button").await;
    desk.until_there("#end .button").await;
    browser.click("#end .button").await;
    desk.until_ended("Imported").await;
    assert_eq!(desk.text(".lead").await, "120 recordings new.");
}

async fn note_the_consents(desk: &At) {
    for child in CHILDREN {
        desk.go(&format!("/desk/children/{child}/consent")).await;
        type_in(&desk.browser, "#version", "2").await;
        // How a day is typed is the browser's own; what it sends is this.
        desk.browser
            .js("document.getElementById('given_on').value = '2025-01-05'")
            .await;
        for scope in ["remote", "example"] {
            desk.browser
                .click(&format!("[name=scope][value={scope}]"))
                .await;
        }
        desk.browser.click("[name=assent][value=given]").await;
        desk.browser.click("form[action$='/consent'] .button").await;
        desk.until_at("/desk/consents").await;
    }
    assert_eq!(desk.text(".lead").await, "3 children; nothing is lacking.");
}

async fn leave_one_recording_out(desk: &At) {
    desk.go("/desk/recordings/review").await;
    // The warm-up word is a "nest": it is needed.
    desk.browser
        .js("[...document.querySelectorAll('tbody th a')].find((one) => !one.textContent.startsWith('nest')).click()")
        .await;
    desk.until_there("#reason").await;
    desk.browser
        .js("document.getElementById('reason').value = 'noise'")
        .await;
    desk.browser.click("form[action*='/exclude'] button").await;
    desk.browser
        .until("return document.querySelector('.notice.care')?.innerText.includes('left out') ?? false")
        .await;
}

/// Gives the two listeners' addresses.
async fn design_seal_and_invite(desk: &At) -> Vec<String> {
    let browser = &desk.browser;
    desk.go("/desk/rounds/new").await;
    for (field, text) in [
        ("#round", "spring"),
        ("#judgements", "2"),
        ("#invited", "2"),
        ("#tokens", "118"),
        ("#repeats", "5"),
        ("#text-consent", "I listen of my own will."),
    ] {
        type_in(browser, field, text).await;
    }
    desk.open_around("#first-sound").await;
    browser
        .js("document.getElementById('first-sound').value = 'off'")
        .await;
    // Two listeners of a hundred and eighteen words each: the forecast follows.
    browser
        .until("return [...document.querySelectorAll('#forecast dt')].find((dt) => dt.textContent === 'Sittings needed')
                  .nextElementSibling.querySelector('strong').textContent === '2'")
        .await;
    browser.click("button[value=read]").await;
    desk.until_at("/desk/rounds/new/plan").await;
    browser
        .click("form[action='/desk/rounds/new/seal'] button")
        .await;
    desk.until_at("/desk/rounds/spring/seal").await;
    browser.click(".notice a.button").await;
    browser
        .until("return document.querySelectorAll('.address').length === 2")
        .await;
    let links = browser
        .js("return [...document.querySelectorAll('.address')].map((one) => one.innerText.trim())")
        .await;
    browser.click("a[href$='/slips']").await;
    browser
        .until("return document.querySelectorAll('.slip svg').length === 2")
        .await;
    let links = links.as_array().unwrap().iter();
    links
        .map(|link| link.as_str().unwrap().to_owned())
        .collect()
}

/// Each listener judges some words in her browser and the rest by the requests that its script would send; the desk follows.
async fn follow_two_listeners(desk: &At, links: &[String]) {
    let progress = "document.querySelector('[data-part=progress] progress').value";
    desk.go("/desk/rounds/spring").await;
    desk.browser.js("window.neverReloaded = true").await;
    for (number, link) in links.iter().enumerate() {
        let listener = Browser::open().await;
        listener.begin_by_keyboard(link).await;
        for _ in 0..3 {
            assert!(listener.hear().await);
            listener.press(key::LEFT).await;
            listener.all_saved().await;
        }
        desk.browser
            .until(&format!(
                "return window.neverReloaded && {progress} > {}",
                number * 118
            ))
            .await;
        let mut remote = Remote::new(&desk.address);
        for cookie in listener.client.get_all_cookies().await.unwrap() {
            remote
                .cookies
                .insert(cookie.name().to_owned(), cookie.value().to_owned());
        }
        judge_the_rest(&mut remote).await;
        listener.go(&format!("{}/listen", desk.address)).await;
        listener
            .until("return document.querySelector('form[action^=\"/listen/closing\"]') !== null")
            .await;
        listener.click("form .button").await;
        listener
            .until("return document.querySelector('.receipt') !== null")
            .await;
        listener.close().await;
    }
    desk.browser
        .until(&format!(
            "return window.neverReloaded && {progress} === 236"
        ))
        .await;
}

/// To the closing questions, past every rest. The same word gets the same answer, so that repeats agree.
async fn judge_the_rest(listener: &mut Remote) {
    loop {
        let ahead = listener.get("/listen/ahead").await.json();
        if let Some(word) = ahead.as_array().unwrap().first() {
            let id = word["id"].as_str().unwrap();
            let text = word["word"].to_string();
            let answer = if text.contains('o') {
                "distorted"
            } else {
                "correct"
            };
            let said = listener.judge(id, answer).await;
            assert_eq!(said.status, 200, "{}", said.text());
        } else if listener
            .get("/listen")
            .await
            .text()
            .contains("/listen/go-on")
        {
            assert_eq!(listener.post("/listen/go-on", "").await.status, 303);
        } else {
            return;
        }
    }
}

async fn close_and_unlock(desk: &At) {
    for turn in ["close", "unlock"] {
        desk.go(&format!("/desk/rounds/spring/{turn}")).await;
        desk.browser.click("[name=sure]").await;
        desk.browser.click("form.form .button").await;
        desk.until_at("/desk/rounds/spring").await;
    }
}

/// The results speak of these children and of no other.
async fn read_the_results(desk: &At, children: &[&str]) {
    desk.go("/desk/rounds/spring/results").await;
    desk.until_heading("Results of round spring").await;
    let page = desk.browser.js("return document.body.innerHTML").await;
    for child in CHILDREN {
        assert_eq!(
            page.as_str().unwrap().contains(child),
            children.contains(&child),
            "{child}"
        );
    }
}

async fn download_an_export(desk: &At, child: &str) {
    desk.go("/desk/rounds/spring/exports").await;
    let script = "const done = arguments[arguments.length - 1];
        fetch(location.pathname, { method: 'POST', body: new URLSearchParams({ form: 'internal' }) })
          .then(async (answer) => done([answer.status, answer.headers.get('content-disposition'),
            new TextDecoder('latin1').decode(await answer.arrayBuffer())]));";
    let got = desk
        .browser
        .client
        .execute_async(script, vec![])
        .await
        .unwrap();
    let (status, kept_as) = (&got[0], &got[1]);
    assert_eq!(status, 200);
    assert!(
        kept_as.as_str().unwrap().contains("attachment"),
        "{kept_as}"
    );
    for file in ["ratings.csv", "tokens.csv", "panel.csv", "README"] {
        assert!(got[2].as_str().unwrap().contains(file), "{file}");
    }
    assert_ne!(got[2], Value::Null);
    // It is told from now on, to whoever withdraws a child.
    desk.go(&format!("/desk/children/{child}/withdraw")).await;
    let told = desk.browser.page().await;
    assert!(told.contains("Whoever has one must destroy it"), "{told}");
}

async fn erase_the_last_child(desk: &At) {
    desk.go("/desk/children/C03/withdraw").await;
    desk.browser.click("[name=how][value=erase]").await;
    desk.browser.click("[name=sure]").await;
    type_in(&desk.browser, "#code", "C03").await;
    desk.browser.click("form.form .button").await;
    desk.until_heading("The child is erased").await;
    desk.go("/desk").await;
    let study = desk.browser.js("return document.body.innerText").await;
    let study = study.as_str().unwrap();
    assert!(study.contains("C01") && study.contains("C02"), "{study}");
    assert!(!study.contains("C03"), "{study}");
    desk.go("/desk/children/C03").await;
    let gone = desk.browser.page().await;
    assert!(!gone.contains("C03"), "{gone}");
}
