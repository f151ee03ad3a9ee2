//! A laptop that is handed round, in a real browser: the next listener finds nothing of the last, and no answer is lost.

use serde_json::Value;
use serde_json::json;

use crate::support::Browser;
use crate::support::Proxy;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// What the browser keeps.
const KEPT: &str = "return Object.keys(localStorage).concat(Object.keys(sessionStorage))";

async fn start(browser: &Browser, address: &str, code: &str) {
    browser.go(&format!("{address}/start")).await;
    let typed = format!("document.getElementById('code').value = {code:?}");
    browser.js(&typed).await;
    browser.click("form button").await;
    browser
        .until("return location.pathname === '/listen'")
        .await;
}

async fn hand_over(browser: &Browser) {
    browser.click(".masthead a").await;
    browser
        .until("return location.pathname === '/hand-over'")
        .await;
    browser
        .until("return document.querySelector('#hand button').getAttribute('aria-disabled') === 'false'")
        .await;
    browser.click("#hand button").await;
    browser.until("return location.pathname === '/start'").await;
}

#[tokio::test]
async fn the_next_listener_finds_nothing_of_the_last() {
    let study = Study::with().words(1).practice(0).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    let browser = Browser::open().await;
    start(&browser, &server.address, &codes[0]).await;
    browser
        .begin_by_keyboard(&format!("{}/listen", server.address))
        .await;
    browser
        .js("document.getElementById('level').value = '-3'; document.getElementById('level').dispatchEvent(new Event('input'))")
        .await;
    assert!(browser.hear().await);
    let word = browser
        .js("return document.getElementById('word').textContent")
        .await;
    let Value::String(word) = word else {
        panic!("a word is shown")
    };
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    hand_over(&browser).await;
    assert_eq!(browser.js(KEPT).await, json!([]));
    assert_eq!(browser.client.get_all_cookies().await.unwrap().len(), 0);
    // However far back she goes, each page asks who is here now.
    for _ in 0..4 {
        browser.client.back().await.unwrap();
        browser
            .until("return document.readyState === 'complete' && location.pathname === '/start'")
            .await;
        let shown = browser.page().await;
        assert!(!shown.contains(word.trim()), "{shown}");
    }
    start(&browser, &server.address, &codes[1]).await;
    browser
        .until("return document.querySelector('[name=agreed]') !== null")
        .await;
    assert_eq!(study.judgements().len(), 1);
    browser.close().await;
}

#[tokio::test]
async fn an_answer_that_waits_is_sent_in_nobody_else_s_name() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let (mut server, codes) = Server::start_for_one_laptop(&study.folder());
    let browser = Browser::open().await;
    start(&browser, &server.address, &codes[0]).await;
    browser
        .begin_by_keyboard(&format!("{}/listen", server.address))
        .await;
    assert!(browser.hear().await);
    let host = server.host().to_owned();
    server.kill();
    browser.press(key::LEFT).await;
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    let kept = browser.js(KEPT).await.to_string();
    assert!(kept.contains("fairhearing.unsent."), "{kept}");
    // The browser is torn away from the page, as when the laptop is switched off.
    browser.go("about:blank").await;
    let (server, _) = Server::start_for_one_laptop_on(&study.folder(), &host);
    browser.go(&format!("{}/withdraw", server.address)).await;
    browser.client.delete_all_cookies().await.unwrap();
    // The next one is told, and starts all the same; nothing is sent in her name.
    browser.go(&format!("{}/start", server.address)).await;
    browser
        .until("return !document.getElementById('unsent').hidden")
        .await;
    start(&browser, &server.address, &codes[1]).await;
    browser
        .begin_by_keyboard(&format!("{}/listen", server.address))
        .await;
    assert_eq!(study.judgements().len(), 0);
    hand_over(&browser).await;
    let kept = browser.js(KEPT).await.to_string();
    assert!(
        kept.contains("fairhearing.unsent."),
        "it still waits: {kept}"
    );
    // She comes back with her code, and it goes out in her own name.
    start(&browser, &server.address, &codes[0]).await;
    browser.check_sound_here().await;
    browser
        .until("return document.getElementById('sitting') !== null")
        .await;
    browser.all_saved().await;
    hand_over(&browser).await;
    assert_eq!(browser.js(KEPT).await, json!([]));
    assert_eq!(study.judgements().len(), 1);
    browser.close().await;
}

#[tokio::test]
async fn the_hand_over_waits_until_every_answer_is_sent() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let (server, codes) = Server::start_for_one_laptop(&study.folder());
    let way = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    start(&browser, &way.address, &codes[0]).await;
    browser
        .begin_by_keyboard(&format!("{}/listen", way.address))
        .await;
    assert!(browser.hear().await);
    way.hold_answers(true);
    browser.press(key::LEFT).await;
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    browser.click(".masthead a").await;
    browser
        .until("return document.querySelector('[data-sending=waiting]')?.hidden === false")
        .await;
    browser.click("#hand button").await;
    assert_eq!(
        browser.js("return location.pathname").await,
        json!("/hand-over")
    );
    assert_eq!(study.judgements().len(), 0);
    way.hold_answers(false);
    browser
        .until("return document.querySelector('[data-sending=sent]').hidden === false")
        .await;
    assert_eq!(study.judgements().len(), 1);
    browser.click("#hand button").await;
    browser.until("return location.pathname === '/start'").await;
    assert_eq!(browser.js(KEPT).await, json!([]));
    browser.close().await;
}
