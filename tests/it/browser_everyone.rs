//! A sitting by keyboard and by ear: keys can be others or none, a screen reader meets what an eye does, nothing moves for
//! who wants it still.

use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// A sitting that has begun, in this browser.
async fn begun(browser: &Browser) -> (Study, Server) {
    let study = Study::with().practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    (study, server)
}

#[tokio::test]
async fn keys_can_be_others_stay_so_and_can_be_off() {
    let browser = Browser::open().await;
    let (study, _server) = begun(&browser).await;
    browser.tab_to("#settings summary").await;
    browser.press(key::ENTER).await;
    browser.tab_to("[data-key=left]").await;
    browser.press(key::ENTER).await;
    browser.press('j').await;
    browser.client.refresh().await.unwrap();
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.press('j').await;
    browser.all_saved().await;
    let left = browser
        .js("return document.querySelector('.answer').getAttribute('aria-pressed')")
        .await;
    assert_eq!(left, json!("true"));
    assert_eq!(study.judgements().len(), 1, "the old key does nothing now");

    browser.tab_to("#settings summary").await;
    browser.press(key::ENTER).await;
    browser.tab_to("#keys-on").await;
    browser.press(key::SPACE).await;
    browser.tab_to("[data-key=left]").await;
    for pressed in ['j', key::RIGHT, key::UP] {
        browser.press(pressed).await;
    }
    browser.client.refresh().await.unwrap();
    browser
        .until("return document.getElementById('next')?.getAttribute('aria-disabled') === 'false'")
        .await;
    browser.press(key::SPACE).await;
    let listening = "return document.querySelector('.listening') !== null";
    assert_eq!(browser.js(listening).await, json!(false));
    // The buttons themselves still answer to the keyboard.
    browser.tab_to("#next").await;
    browser.press(key::ENTER).await;
    browser
        .until("return document.querySelector('.answer').getAttribute('aria-disabled') === 'false'")
        .await;
    browser.tab_to("[data-answer]").await;
    browser.press(key::ENTER).await;
    browser.all_saved().await;
    browser.close().await;
    assert_eq!(study.judgements().len(), 2);
}

#[tokio::test]
async fn nothing_moves_for_a_person_who_wants_pages_still() {
    for (browser, animation) in [
        (Browser::open().await, json!("attend")),
        (Browser::open_still().await, json!("none")),
    ] {
        let (_study, _server) = begun(&browser).await;
        browser.with_long_words().await;
        browser.let_it_sound().await;
        let name = "return getComputedStyle(document.getElementById('word')).animationName";
        assert_eq!(browser.js(name).await, animation);
        browser.close().await;
    }
}

#[tokio::test]
async fn a_screen_reader_meets_the_word_the_answers_and_their_state() {
    let browser = Browser::open().await;
    let (_study, _server) = begun(&browser).await;
    let shown = "const word = document.querySelector('#word [aria-hidden]');
        return word.textContent + ': ' + word.querySelector('mark').textContent";
    let word = browser.js(shown).await;
    let whole = format!("StaticText: {}", word.as_str().unwrap());
    let meets = async |what: &str| {
        browser
            .until_a_screen_reader_meets(what, |all| all.iter().any(|met| met == what))
            .await;
    };
    for part in [
        &whole,
        "RootWebArea: Listening",
        "main: ",
        "heading: Listening",
        "button: Play the word",
        "group: How does the sound come out?",
        "button: correct, disabled",
        "button: distorted, disabled",
        "status: ",
    ] {
        meets(part).await;
    }
    browser
        .until_a_screen_reader_meets("progress", |all| {
            all.iter()
                .any(|met| met.starts_with("progressbar: Word 1 of "))
        })
        .await;
    assert!(browser.hear().await);
    for part in ["button: correct", "button: distorted"] {
        meets(part).await;
    }
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser
        .until_a_screen_reader_meets("one answer pressed", |all| {
            all.iter().filter(|met| met.ends_with(", pressed")).count() == 1
        })
        .await;
    browser.close().await;
}
