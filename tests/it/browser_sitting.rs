//! Answers in a real browser: changed until the next word, and taken only after the word.

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
