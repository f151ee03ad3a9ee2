//! The desk in a real browser: nobody is shut out of a page, it fits a phone, and signing in works with and without TLS.

use std::path::Path;

use fairhearing::web::Reached;
use fairhearing::web::TlsFiles;
use serde_json::json;

use crate::browser_access::AXE;
use crate::browser_access::RUN_AXE;
use crate::browser_access::TOO_SMALL;
use crate::browser_access::TOO_WIDE;
use crate::support::Browser;
use crate::support::Desk;
use crate::support::PASSWORD;
use crate::support::Study;
use crate::support::account;

/// A study with people, and its desk as a proxy would show it, so that the test of reachability is there.
fn served() -> (Study, Desk, Vec<String>) {
    let study = Study::with().peers(1).sealed();
    account(&study, "Ada", "researcher", &[]);
    let code = account(&study, "Clara", "clinician", &["C02"]);
    let reached = Reached {
        public_url: Some("http://rating.example".to_owned()),
        ..Reached::default()
    };
    let desk = Desk::reached(&study, reached, None);
    let pages = [
        "/desk",
        "/desk/children/C01",
        "/desk/recordings",
        "/desk/rounds",
        "/desk/rounds/spring",
        "/desk/rounds/spring/close",
        "/desk/rounds/spring/unlock",
        "/desk/rounds/spring/exports",
        "/desk/rounds/spring/seal",
        "/desk/rounds/spring/invitations",
        "/desk/rounds/new",
        "/desk/caseload",
        "/desk/outcome",
        "/desk/children/C01/links",
        "/desk/people",
        "/desk/audit",
        "/desk/reach",
        "/desk/account",
    ];
    let mut pages: Vec<String> = pages.map(str::to_owned).to_vec();
    pages.push(format!("/desk/people/{code}"));
    (study, desk, pages)
}

pub(crate) async fn type_in(browser: &Browser, css: &str, text: &str) {
    let field = browser
        .client
        .find(fantoccini::Locator::Css(css))
        .await
        .unwrap();
    field.clear().await.unwrap();
    field.send_keys(text).await.unwrap();
}

pub(crate) async fn sign_in(browser: &Browser, address: &str) {
    browser.go(&format!("{address}/desk/sign-in")).await;
    type_in(browser, "#name", "Ada").await;
    type_in(browser, "#password", PASSWORD).await;
    browser.click("form .button").await;
    browser.until("return location.pathname === '/desk'").await;
}

/// Looks at the pages before signing in, then at all others.
async fn walk(browser: &Browser, desk: &Desk, pages: &[String], look: impl AsyncFn(&str)) {
    browser.go(&format!("{}/desk/sign-in", desk.address)).await;
    look("sign in").await;
    type_in(browser, "#name", "Ada").await;
    type_in(browser, "#password", "a wrong password").await;
    browser.click("form .button").await;
    browser
        .until("return document.querySelector('.error') !== null")
        .await;
    look("sign in, refused").await;
    sign_in(browser, &desk.address).await;
    for page in pages {
        browser.go(&format!("{}{page}", desk.address)).await;
        look(page).await;
    }
    browser.go(&format!("{}/desk/people", desk.address)).await;
    browser.click("form.form .button").await;
    browser
        .until("return document.querySelector('.field.wrong') !== null")
        .await;
    look("people, refused").await;
}

/// What reaches over the right edge.
const OVER_THE_EDGE: &str = "const edge = document.documentElement.clientWidth;
    return [...document.querySelectorAll('body *')].filter((part) => part.getBoundingClientRect().right > edge)
        .slice(0, 8).map((part) => part.outerHTML.slice(0, 120));";

#[tokio::test]
async fn an_accessibility_engine_finds_nothing_on_any_page_of_the_desk_in_light_or_dark() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    let (_study, desk, pages) = tokio::task::spawn_blocking(served).await.unwrap();
    for browser in [Browser::open().await, Browser::open_dark().await] {
        walk(&browser, &desk, &pages, async |page| {
            browser.js(&axe).await;
            let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
            assert_eq!(found, json!([]), "{page}");
        })
        .await;
        browser.close().await;
    }
    drop_blocking(desk).await;
}

#[tokio::test]
async fn every_page_of_the_desk_fits_a_narrow_phone_with_targets_for_a_thumb() {
    let (_study, desk, pages) = tokio::task::spawn_blocking(served).await.unwrap();
    let browser = Browser::open_phone(320).await;
    walk(&browser, &desk, &pages, async |page| {
        assert_eq!(
            browser.js(TOO_WIDE).await,
            json!(false),
            "{page} is wider than 320 px: {}",
            browser.js(OVER_THE_EDGE).await
        );
        assert_eq!(browser.js(TOO_SMALL).await, json!([]), "{page}");
    })
    .await;
    browser.close().await;
    drop_blocking(desk).await;
}

#[tokio::test]
async fn over_tls_of_its_own_staff_sign_in_and_work() {
    let (study, desk) = tokio::task::spawn_blocking(|| {
        let study = Study::with().sealed();
        account(&study, "Ada", "researcher", &[]);
        let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/tls");
        let files = TlsFiles {
            certificate: fixtures.join("certificate.pem"),
            key: fixtures.join("key.pem"),
        };
        let desk = Desk::reached(&study, Reached::default(), Some(&files));
        (study, desk)
    })
    .await
    .unwrap();
    let browser = Browser::open_trusting().await;
    assert!(desk.address.starts_with("https://"));
    sign_in(&browser, &desk.address).await;
    let cookies = browser.client.get_all_cookies().await.unwrap();
    let [cookie] = cookies.as_slice() else {
        panic!("{cookies:?}")
    };
    assert_eq!(cookie.name(), "__Host-desk");
    assert_eq!(
        (cookie.secure(), cookie.http_only()),
        (Some(true), Some(true))
    );
    // A listener comes by her link over the same way.
    browser
        .go(&format!("{}{}", desk.address, study.links()[0].path))
        .await;
    browser
        .until("return location.pathname === '/listen'")
        .await;
    browser.go(&format!("{}/desk", desk.address)).await;
    browser.click(".who button").await;
    browser
        .until("return location.pathname === '/desk/sign-in'")
        .await;
    browser.close().await;
    drop_blocking(desk).await;
}

/// A runtime may not be dropped inside another.
async fn drop_blocking(desk: Desk) {
    tokio::task::spawn_blocking(move || drop(desk))
        .await
        .unwrap();
}
