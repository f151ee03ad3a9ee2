//! A round from its design to the slips in a real browser: the forecast follows every change, and everybody can use it.

use fantoccini::Locator;
use serde_json::json;

use crate::browser_access::AXE;
use crate::browser_access::RUN_AXE;
use crate::browser_access::TOO_SMALL;
use crate::browser_access::TOO_WIDE;
use crate::browser_desk::sign_in;
use crate::browser_desk::type_in;
use crate::support::Browser;
use crate::support::Desk;
use crate::support::Study;
use crate::support::account;

/// A study with words for a round, nothing sealed.
fn served() -> (Study, Desk) {
    let study = Study::with()
        .children(3)
        .sessions(6)
        .words(8)
        .checks(12)
        .practice(4)
        .warm_ups(4)
        .imported();
    account(&study, "Ada", "researcher", &[]);
    let desk = Desk::of(&study);
    (study, desk)
}

/// The figure beside a name of the forecast.
const FIGURE: &str = "[...document.querySelectorAll('#forecast dt')].find((dt) => dt.textContent === 'Sittings needed')\
                      .nextElementSibling.querySelector('strong').textContent";

/// The whole way; `look` at each page.
async fn from_design_to_slips(browser: &Browser, desk: &Desk, look: impl AsyncFn(&str)) {
    sign_in(browser, &desk.address).await;
    browser.click("a[href='/desk/rounds']").await;
    browser.click("a[href='/desk/rounds/new']").await;
    browser.until(&format!("return {FIGURE} === '22'")).await;
    look("the form").await;

    // 144 words: nine judgements each in sittings of 60 are 22 sittings; five judgements are 12. No button is pressed.
    type_in(browser, "#judgements", "5").await;
    browser.until(&format!("return {FIGURE} === '12'")).await;
    let said = browser
        .js("return document.getElementById('forecast-said').textContent")
        .await;
    assert!(
        said.as_str().unwrap().contains("Sittings needed: 12"),
        "{said}"
    );
    type_in(browser, "#judgements", "five").await;
    browser.until("return document.getElementById('judgements-error').textContent.includes('“five” does not fit here')").await;
    type_in(browser, "#judgements", "5").await;
    browser.until(&format!("return document.getElementById('judgements-error').textContent === '' && {FIGURE} === '12'")).await;
    type_in(browser, "#volunteers", "24").await;
    type_in(browser, "#volunteer-minutes", "20").await;
    browser
        .until("return document.querySelector('#proof table') !== null")
        .await;
    look("the form with what volunteers can prove").await;

    // The plan is asked for too early: the form says what is missing, and all the rest is there.
    browser.click("button[value=read]").await;
    browser
        .until("return document.getElementById('wrong') !== null")
        .await;
    look("the form, refused").await;
    assert_eq!(
        browser
            .js("return document.getElementById('judgements').value")
            .await,
        json!("5")
    );
    type_in(browser, "#round", "spring").await;
    type_in(browser, "#text-consent", "I listen of my own will.").await;
    browser
        .until("return document.getElementById('text-consent-error').textContent === ''")
        .await;
    browser.client.refresh().await.unwrap();
    assert_eq!(
        browser
            .js("return document.getElementById('round').value")
            .await,
        json!("spring")
    );
    browser.click("button[value=read]").await;
    browser
        .until("return location.pathname === '/desk/rounds/new/plan'")
        .await;
    look("the plan").await;
    browser
        .click("form[action='/desk/rounds/new/seal'] button")
        .await;
    browser
        .until("return location.pathname === '/desk/rounds/spring/seal'")
        .await;
    look("the seal sheet").await;
    browser.click(".notice a.button").await;
    browser
        .until("return document.querySelectorAll('.address').length > 10")
        .await;
    look("the links").await;

    browser
        .go(&format!("{}/desk/rounds/spring/invitations", desk.address))
        .await;
    look("the invitations").await;
    type_in(browser, "#number", "2").await;
    browser.click("form.form .button").await;
    browser
        .until("return document.querySelectorAll('.address').length === 2")
        .await;
    browser.click("a[href$='/slips']").await;
    browser
        .until("return document.querySelectorAll('.slip svg').length === 2")
        .await;
    look("the slips").await;
}

#[tokio::test]
async fn from_design_to_slips_an_accessibility_engine_finds_nothing_in_light_or_dark() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    for dark in [false, true] {
        let (_study, desk) = tokio::task::spawn_blocking(served).await.unwrap();
        let browser = if dark {
            Browser::open_dark().await
        } else {
            Browser::open().await
        };
        from_design_to_slips(&browser, &desk, async |page| {
            browser.js(&axe).await;
            let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
            assert_eq!(found, json!([]), "{page}");
        })
        .await;
        browser.close().await;
        tokio::task::spawn_blocking(move || drop(desk))
            .await
            .unwrap();
    }
}

#[tokio::test]
async fn a_round_is_designed_on_a_narrow_phone() {
    let (_study, desk) = tokio::task::spawn_blocking(served).await.unwrap();
    let browser = Browser::open_phone(320).await;
    from_design_to_slips(&browser, &desk, async |page| {
        assert_eq!(
            browser.js(TOO_WIDE).await,
            json!(false),
            "{page} is wider than 320 px"
        );
        assert_eq!(browser.js(TOO_SMALL).await, json!([]), "{page}");
    })
    .await;
    // What is wrong can be reached from the list of it.
    browser
        .go(&format!("{}/desk/rounds/new", desk.address))
        .await;
    browser.click("button[value=read]").await;
    browser
        .until("return document.querySelector('#wrong a') !== null")
        .await;
    let link = browser.client.find(Locator::Css("#wrong a")).await.unwrap();
    link.click().await.unwrap();
    browser.until("return location.hash === '#round'").await;
    browser.close().await;
    tokio::task::spawn_blocking(move || drop(desk))
        .await
        .unwrap();
}
