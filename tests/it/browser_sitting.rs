//! Answers in a real browser: changed until the next word, and taken only after the word.

use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

#[tokio::test]
async fn an_answer_may_be_changed_until_the_next_word_and_both_are_kept() {
    let study = Study::with().practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    assert!(browser.hear().await);
    for pressed in [key::LEFT, key::RIGHT, key::LEFT, key::LEFT] {
        browser.press(pressed).await;
    }
    browser.all_saved().await;
    browser.close().await;
    let kept = study.judgements();
    let revisions: Vec<_> = kept.iter().map(|row| row.revision).collect();
    assert_eq!(revisions, [1, 2, 3]);
    assert_eq!(kept[0].answer, kept[2].answer);
    assert_ne!(kept[0].answer, kept[1].answer);
}

#[tokio::test]
async fn no_answer_is_taken_before_the_word_has_ended() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.press(key::LEFT).await;
    browser.click(".answer").await;
    browser.press(key::SPACE).await;
    browser.press(key::RIGHT).await;
    browser
        .until("return document.querySelector('.answer').getAttribute('aria-disabled') === 'false'")
        .await;
    let pressed = browser
        .js("return document.querySelectorAll('.answer[aria-pressed=true]').length")
        .await;
    assert_eq!(pressed, 0);
    browser.close().await;
    assert!(study.judgements().is_empty());
}

/// Keeps back every answer on what comes, until it is let go.
const HOLD_WHAT_COMES: &str = "window.held = [];
    const fetched = window.fetch;
    window.fetch = (address, ...how) => address !== '/listen/ahead' ? fetched(address, ...how)
      : fetched(address, ...how).then((answer) => new Promise((go) => window.held.push(() => go(answer))));";

#[tokio::test]
async fn answers_on_what_comes_that_overtake_each_other_take_no_judgement_back() {
    let study = Study::with().practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    assert!(browser.hear().await);
    browser.js(HOLD_WHAT_COMES).await;
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    for _ in 0..2 {
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
        browser.all_saved().await;
    }
    // Three words were known; of the fourth nothing was told yet.
    browser.press(key::SPACE).await;
    browser.until_said("loading").await;
    browser
        .until("return window.held.length >= 4 && (window.held.shift()(), true)")
        .await;
    browser.until_said("ready").await;
    assert!(browser.hear().await);
    browser.press(key::RIGHT).await;
    browser.all_saved().await;
    browser
        .js("for (const go of window.held.splice(0)) go()")
        .await;
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    let pressed = "return [...document.querySelectorAll('.answer[aria-pressed=true]')].length";
    assert_eq!(browser.js(pressed).await, 1);
    // A second thought is the second answer, and not the first one once more.
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    let revisions: Vec<_> = study.judgements().iter().map(|row| row.revision).collect();
    assert_eq!(revisions, [1, 1, 1, 1, 2]);
}

#[tokio::test]
async fn each_word_may_be_shown_first_and_played_by_a_second_press() {
    let study = Study::with().practice(0).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.tab_to("#settings summary").await;
    browser.press(key::ENTER).await;
    browser.tab_to("#read-first").await;
    browser.press(key::SPACE).await;
    browser.client.refresh().await.unwrap();
    browser.until_said("ready").await;
    let to_be_heard = "return !document.querySelector('[data-label=hear]').hidden
        && document.getElementById('word').getAttribute('aria-live') === 'polite'";
    for _ in 0..2 {
        assert_eq!(browser.js(to_be_heard).await, json!(true));
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
        browser.press(key::SPACE).await;
        browser.until_said("ready").await;
    }
    browser.close().await;
    assert_eq!(study.judgements().len(), 2);
}
