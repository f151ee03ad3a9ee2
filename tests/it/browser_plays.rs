//! How often a word may be heard, in a real browser: a page that is loaded anew, another device and a
//! connection that is gone change nothing of it.

use fairhearing::store::Reading;
use fairhearing::store::StoreError;
use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// A study with one replay, whose only listener has begun, and her browser.
async fn begun() -> (Study, Server, Browser) {
    let study = Study::with()
        .listeners(1)
        .judgements(1)
        .practice(0)
        .warm_ups(0)
        .replays(1)
        .sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    (study, server, browser)
}

async fn until_reported(study: &Study, plays: u32) {
    let count = || {
        let all = |reading: &Reading<'_>| Ok::<_, StoreError>(reading.plays()?.len());
        u32::try_from(study.store().read(all).unwrap()).unwrap()
    };
    let begun = std::time::Instant::now();
    while count() < plays {
        assert!(
            begun.elapsed().as_secs() < 40,
            "{} of {plays} plays",
            count()
        );
        tokio::time::sleep(std::time::Duration::from_millis(30)).await;
    }
    assert_eq!(count(), plays);
}

/// Waits until the page says whether the word may be played and played again, and how many replays it tells of.
async fn until_left(browser: &Browser, next: bool, again: bool, told: &str) {
    let wanted = (next, again, told.to_owned());
    let begun = std::time::Instant::now();
    while left(browser).await != wanted {
        assert!(
            begun.elapsed().as_secs() < 40,
            "{:?}, not {wanted:?}",
            left(browser).await
        );
        tokio::time::sleep(std::time::Duration::from_millis(30)).await;
    }
}

/// Whether the word may be played and played again, and how many replays the page tells of.
async fn left(browser: &Browser) -> (bool, bool, String) {
    let off = |id: &str| {
        format!("return document.getElementById('{id}').getAttribute('aria-disabled') === 'false'")
    };
    let next = browser.js(&off("next")).await == json!(true);
    let again = browser.js(&off("again")).await == json!(true);
    let told = "return document.getElementById('left').textContent.replace(/\\D/g, '')";
    let told = browser.js(told).await;
    (next, again, told.as_str().unwrap().to_owned())
}

#[tokio::test]
async fn a_page_loaded_anew_and_another_device_give_no_further_replay() {
    let (study, server, browser) = begun().await;
    assert!(browser.hear().await);
    until_reported(&study, 1).await;
    browser.client.refresh().await.unwrap();
    browser.until_said("heard_before").await;
    until_left(&browser, false, true, "1").await;
    browser.hear_again().await;
    until_reported(&study, 2).await;
    browser.close().await;
    let other = Browser::open().await;
    other
        .go(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    other.check_sound_here().await;
    other.until_said("heard_before").await;
    until_left(&other, false, false, "0").await;
    let sounds = "return performance.getEntriesByType('resource')
        .filter((got) => got.name.includes('/listen/sound/') && got.responseStatus >= 400).length";
    assert_eq!(
        other.js(sounds).await,
        json!(0),
        "no sound is asked for in vain"
    );
    other.press(key::LEFT).await;
    other.all_saved().await;
    let kept = study.judgements();
    assert_eq!((kept.len(), kept[0].replays, kept[0].rt_ms), (1, 1, None));
    // The next word is a fresh one.
    assert!(other.hear().await);
    until_left(&other, false, true, "1").await;
    other.close().await;
}

#[tokio::test]
async fn what_was_played_without_a_connection_is_reported_before_its_answer() {
    let (study, _server, browser) = begun().await;
    // The word is in the browser already.
    browser
        .until(
            "return performance.getEntriesByType('resource')
               .some((got) => got.name.includes('/listen/sound/') && got.responseEnd > 0)",
        )
        .await;
    // Every request fails from here on, as without a network.
    browser
        .js("window.kept = window.fetch; window.fetch = () => Promise.reject(new TypeError())")
        .await;
    assert!(browser.hear().await);
    browser.hear_again().await;
    let unsent = "return document.querySelector('[data-kept=unsent]').hidden";
    assert_eq!(browser.js(unsent).await, json!(true), "no answer waits yet");
    browser.press(key::RIGHT).await;
    browser
        .until("return document.querySelector('[data-kept=unsent]').textContent.includes('1')")
        .await;
    browser
        .js("window.fetch = window.kept; window.dispatchEvent(new Event('online'))")
        .await;
    browser.all_saved().await;
    browser.close().await;
    let kept = study.judgements();
    assert_eq!((kept.len(), kept[0].replays), (1, 1));
    until_reported(&study, 2).await;
    let verified = fairhearing::app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}
