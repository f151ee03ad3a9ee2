//! A folder of 120 recordings in a browser: dropped, mended, imported, looked through.

use std::time::Duration;

use fantoccini::Locator;
use serde_json::json;

use crate::browser_desk::sign_in;
use crate::support::Browser;
use crate::support::Staff;
use crate::support::Study;
use crate::support::spoken;
use crate::support::wav_16_bit;

/// The engine, put there by `scripts/test` from the npm registry.
const AXE: &str = concat!(
    env!("CARGO_TARGET_TMPDIR"),
    "/axe/node_modules/axe-core/axe.min.js"
);

/// How long the preparing of all recordings may take on a busy machine.
const PREPARING: Duration = Duration::from_mins(5);

/// Runs the engine over WCAG 2.2 A and AA and says what it found.
const RUN_AXE: &str = "const done = arguments[arguments.length - 1];
    axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })
      .then((found) => done(found.violations.map((rule) => rule.id + ': ' + rule.nodes.map((node) => node.html).join(' | '))));";

/// What is wider than the page.
const TOO_WIDE: &str =
    "return document.documentElement.scrollWidth > document.documentElement.clientWidth";

/// Drops files from the folder field onto the place for them, as a hand would.
const DROP: &str = "const held = new DataTransfer();
    for (const file of document.querySelector('[name=files]').files) held.items.add(file);
    const place = document.querySelector('[data-drop]');
    place.dispatchEvent(new DragEvent('drop', { dataTransfer: held, bubbles: true, cancelable: true }));";

/// Recordings of five children with four sessions of six words, of which two are spoilt: one file and one row.
fn with_two_spoilt() -> Study {
    let study = Study::with()
        .children(5)
        .sessions(4)
        .words(6)
        .checks(0)
        .practice(0)
        .warm_ups(0)
        .examples(0)
        .made();
    std::fs::write(study.audio().join("word7.wav"), b"no sound").unwrap();
    let manifest = std::fs::read_to_string(study.manifest()).unwrap();
    let wrong = manifest.replacen("word50.wav,C03,1,baseline", "word50.wav,C03,1,basline", 1);
    assert_ne!(wrong, manifest);
    std::fs::write(study.manifest(), wrong).unwrap();
    study
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hundred_and_twenty_dropped_files_are_mended_imported_and_looked_through() {
    let (study, desk) = served(with_two_spoilt).await;
    let browser = Browser::open().await;
    come_in(&browser, &desk).await;
    browser.go(&format!("{}/desk/import", desk.address)).await;
    browser.click("form[action='/desk/import'] button").await;
    browser
        .until("return document.querySelector('[data-drop]') !== null")
        .await;
    let mut paths: Vec<String> = (1..=120)
        .map(|n| {
            study
                .audio()
                .join(format!("word{n}.wav"))
                .display()
                .to_string()
        })
        .collect();
    paths.push(study.manifest().display().to_string());
    // The field is filled without its own sending: what is dropped is what is sent.
    browser
        .js("window.addEventListener('change', (event) => event.stopImmediatePropagation(), { capture: true })")
        .await;
    let field = browser
        .client
        .find(Locator::Css("[name=files]"))
        .await
        .unwrap();
    field.send_keys(&paths.join("\n")).await.unwrap();
    browser.js(DROP).await;
    browser
        .until("return document.querySelector('#problems li') !== null")
        .await;
    browser.click("#problems li a").await;
    browser
        .until("return document.querySelector('[aria-invalid]') !== null")
        .await;
    assert_eq!(
        browser
            .js("return document.querySelector('[aria-invalid]').name")
            .await,
        json!("phase")
    );
    browser
        .js("document.querySelector('[name=phase]').value = 'baseline'")
        .await;
    browser.click("section form .button:not(.second)").await;
    browser.until("return document.getElementById('rows') !== null && document.querySelector('#problems li') === null").await;

    browser.click("#end .button").await;
    browser
        .until_within(
            PREPARING,
            "return document.querySelector('h1').textContent === 'Nothing was imported'",
        )
        .await;
    browser.click("[href$='#problems']").await;
    browser
        .until("return document.querySelector('#problems li') !== null")
        .await;
    let said = browser
        .js("return document.querySelector('#problems li').textContent")
        .await;
    assert!(
        said.as_str()
            .unwrap()
            .contains("word7.wav: this is not a sound file"),
        "{said}"
    );
    browser.click("#problems li a").await;
    browser
        .until("return document.querySelector('[name=recording]') !== null")
        .await;
    let mended = study.audio().join("mended.wav");
    std::fs::write(&mended, wav_16_bit(&spoken(500))).unwrap();
    let field = browser
        .client
        .find(Locator::Css("[name=recording]"))
        .await
        .unwrap();
    field
        .send_keys(&mended.display().to_string())
        .await
        .unwrap();
    browser.click("[action$='/recording'] button").await;
    browser
        .until("return document.getElementById('end') !== null")
        .await;
    browser.click("#end .button").await;
    browser
        .until_within(
            PREPARING,
            "return document.querySelector('h1').textContent === 'Imported'",
        )
        .await;
    let lead = browser
        .js("return document.querySelector('.lead').textContent")
        .await;
    assert_eq!(lead, json!("120 recordings new."));

    look_through(&browser).await;
    browser.close().await;
    stop(desk).await;
}

/// Makes a study and serves its desk, where waiting is allowed.
async fn served(made: fn() -> Study) -> (Study, Staff) {
    let served = move || {
        let study = made();
        let desk = Staff::of(&study);
        (study, desk)
    };
    tokio::task::spawn_blocking(served).await.unwrap()
}

async fn stop(desk: Staff) {
    tokio::task::spawn_blocking(move || drop(desk))
        .await
        .unwrap();
}

/// From the end of the import through the review, by keys where there are keys.
async fn look_through(browser: &Browser) {
    browser.click("main .button").await;
    browser
        .until("return document.querySelectorAll('tbody tr').length === 100")
        .await;
    browser.click("tbody th a").await;
    browser
        .until("return document.querySelector('[data-sound=p]') !== null")
        .await;
    browser
        .js("const sound = document.querySelector('[data-sound=p]'); sound.addEventListener('ended', () => { window.heard = true; });")
        .await;
    browser.press('p').await;
    browser.until("return window.heard === true").await;
    let at = "return document.querySelector('h1').textContent";
    assert_eq!(browser.js(at).await, json!("Recording 1 of 120"));
    browser.press(crate::support::key::RIGHT).await;
    browser
        .until("return document.querySelector('h1').textContent === 'Recording 2 of 120'")
        .await;
    browser.press(crate::support::key::LEFT).await;
    browser
        .until("return document.querySelector('h1').textContent === 'Recording 1 of 120'")
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_accessibility_engine_finds_nothing_and_every_page_fits_a_narrow_phone() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    let (study, desk) = served(with_a_list_of_words).await;
    let (pages, desk) =
        tokio::task::spawn_blocking(move || (every_page(&study, &desk), (study, desk)))
            .await
            .unwrap();
    let (_study, desk) = desk;
    for browser in [Browser::open().await, Browser::open_dark().await] {
        come_in(&browser, &desk).await;
        for page in &pages {
            browser.go(&format!("{}{page}", desk.address)).await;
            browser.js(&axe).await;
            let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
            assert_eq!(found, json!([]), "{page}");
        }
        browser.close().await;
    }
    let phone = Browser::open_phone(320).await;
    come_in(&phone, &desk).await;
    for page in &pages {
        phone.go(&format!("{}{page}", desk.address)).await;
        assert_eq!(
            phone.js(TOO_WIDE).await,
            json!(false),
            "{page} is wider than 320 px"
        );
    }
    phone.close().await;
    stop(desk).await;
}

fn with_a_list_of_words() -> Study {
    let study = Study::with().imported();
    let settings = std::fs::read_to_string(study.folder().join("study.toml")).unwrap();
    let words = format!("{settings}words = [\"[s]ail\", \"mu[ss]el\"]\n");
    std::fs::write(study.folder().join("study.toml"), words).unwrap();
    study
}

/// Signs in as staff do.
async fn come_in(browser: &Browser, desk: &Staff) {
    sign_in(browser, &desk.address).await;
}

/// An address of each page about recordings.
fn every_page(study: &Study, desk: &Staff) -> Vec<String> {
    let import = desk.begin_import();
    let empty = desk.begin_import();
    let wav = wav_16_bit(&spoken(77));
    let files: &[(&str, &[u8])] = &[
        ("C09_1_baseline_sail.wav", &wav),
        ("odd.wav", &wav),
        (
            "m.csv",
            b"file,child,session,phase,word\nC09_1_baseline_sail.wav,C09,1,basline,[s]ail\n,C09,1,baseline,bu[s]\n",
        ),
    ];
    desk.send_files(&format!("{import}/files"), files);
    let names = desk.begin_import();
    desk.send_files(&format!("{names}/files"), &files[..2]);
    let ended = desk.begin_import();
    let nothing: &[(&str, &[u8])] = &[("m.csv", b"file,child,session,phase,word\n")];
    desk.send_files(&format!("{ended}/files"), nothing);
    desk.run_import(&ended);
    let list = desk.get("/desk/recordings/review").text();
    let first = list
        .split("href=\"/desk/recordings/review/")
        .nth(1)
        .unwrap();
    let first = first.split('?').next().unwrap();
    let sheet = desk.post("/desk/before/sheet", &[]).location;
    let imports = study
        .events()
        .iter()
        .filter(|event| event.kind == "import")
        .count();
    assert_eq!(imports, 1, "nothing of this is imported");
    let mut pages: Vec<String> = [
        "/desk",
        "/desk/settings",
        "/desk/recordings",
        "/desk/before",
        "/desk/before/sheet",
        "/desk/before/test",
        "/desk/import",
        "/desk/recordings/review",
        "/desk/recordings/phases",
    ]
    .map(str::to_owned)
    .into();
    pages.extend([
        format!("{import}/rows/2"),
        format!("{ended}/run"),
        import,
        empty,
        names,
        sheet,
    ]);
    pages.push(format!("/desk/recordings/review/{first}"));
    pages
}
