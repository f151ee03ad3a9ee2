//! Words that are cut short in a real browser: a page out of sight, a closed lid, a lost output, a
//! page loaded anew. Such a word is not judged and comes back later; nothing else is touched.

use fairhearing::app;
use fairhearing::store::PresentationRow;
use fairhearing::study::PresentationKind;
use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// A study of four words whose only listener has begun, and her browser, in which words are long.
async fn begun() -> (Study, Server, Browser) {
    let study = Study::with()
        .children(1)
        .words(2)
        .listeners(1)
        .judgements(1)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.with_long_words().await;
    (study, server, browser)
}

/// The places of the sitting that ask something.
fn asked(study: &Study) -> Vec<PresentationRow> {
    let mut places = study
        .store()
        .read(|reading| {
            let listener = reading.enrolments(reading.rounds()?[0].id)?[0].id;
            reading.presentations_of(reading.sittings_of(listener)?[0].id)
        })
        .unwrap();
    places.retain(|place| place.kind != PresentationKind::Example);
    places
}

/// Waits until the server knows that the first of four words, and no other, was cut short and comes back.
async fn until_the_first_came_back(study: &Study) {
    let voided = || -> Vec<_> { asked(study).iter().map(|place| place.voided).collect() };
    let begun = std::time::Instant::now();
    while voided() != [1, 0, 0, 0, 0] {
        assert!(begun.elapsed().as_secs() < 40, "{:?}", voided());
        tokio::time::sleep(std::time::Duration::from_millis(30)).await;
    }
}

/// The first word alone was cut short: it cannot be answered, and comes back as the fifth place.
async fn assert_it_comes_back(study: &Study, browser: &Browser) {
    browser.until_said("cut_short").await;
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    until_the_first_came_back(study).await;
    let places = asked(study);
    assert_eq!(places[4].token, places[0].token);
    assert!(study.judgements().is_empty());
    browser
        .until("return document.getElementById('number').textContent.includes('1')")
        .await;
    let verified = app::verify(&study.workspace, &[]).unwrap();
    assert_eq!(verified.findings, Vec::<String>::new());
}

#[tokio::test]
async fn a_wireless_output_that_falls_asleep_cuts_the_word_short() {
    let (study, _server, browser) = begun().await;
    browser.watch_the_audio_clock().await;
    browser.let_it_sound().await;
    browser.js("window.audioClock.suspend()").await;
    assert_it_comes_back(&study, &browser).await;
    // The next press wakes it, and the sitting goes on to its end.
    let mut judged = 0;
    while browser.hear().await {
        browser.press(key::RIGHT).await;
        browser.all_saved().await;
        judged += 1;
    }
    browser.close().await;
    assert_eq!(judged, 4);
    let places = asked(&study);
    let kept: Vec<_> = study
        .judgements()
        .iter()
        .map(|row| row.presentation)
        .collect();
    // What a busy machine cut short besides came back too.
    let came: Vec<_> = places
        .iter()
        .filter(|place| place.voided == 0)
        .map(|place| place.id)
        .collect();
    assert_eq!(kept, came);
}

#[tokio::test]
async fn a_page_out_of_sight_cuts_the_word_short() {
    let (study, _server, browser) = begun().await;
    let first = browser.client.window().await.unwrap();
    browser.let_it_sound().await;
    let other = browser.client.new_window(true).await.unwrap().handle;
    browser.client.switch_to_window(other).await.unwrap();
    browser.go("about:blank").await;
    browser.client.close_window().await.unwrap();
    browser.client.switch_to_window(first).await.unwrap();
    assert_it_comes_back(&study, &browser).await;
    browser.close().await;
}

#[tokio::test]
async fn a_closed_lid_cuts_the_word_short() {
    let (study, _server, browser) = begun().await;
    browser.let_it_sound().await;
    browser.set_frozen(true).await;
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    browser.set_frozen(false).await;
    assert_it_comes_back(&study, &browser).await;
    browser.close().await;
}

#[tokio::test]
async fn a_page_loaded_anew_while_a_word_sounds_cuts_it_short() {
    let (study, _server, browser) = begun().await;
    browser.let_it_sound().await;
    browser.client.refresh().await.unwrap();
    browser
        .until("return document.getElementById('number')?.textContent.includes('1') ?? false")
        .await;
    until_the_first_came_back(&study).await;
    browser.close().await;
}

#[tokio::test]
async fn an_output_that_was_pulled_out_cuts_the_word_short() {
    let (study, _server, browser) = begun().await;
    browser.let_it_sound().await;
    browser
        .js("navigator.mediaDevices.dispatchEvent(new Event('devicechange'))")
        .await;
    assert_it_comes_back(&study, &browser).await;
    browser.close().await;
}

#[tokio::test]
async fn a_replay_that_is_cut_short_leaves_the_word_to_be_judged() {
    let (study, _server, browser) = begun().await;
    assert!(browser.hear().await);
    browser.js("window.soundingSince = Infinity").await;
    browser.press(key::UP).await;
    browser
        .until("return window.soundingSince + 300 < performance.now()")
        .await;
    browser.js("window.dispatchEvent(new Event('blur'))").await;
    browser.until_said("interrupted_again").await;
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    let kept = study.judgements();
    assert_eq!((kept.len(), kept[0].replays), (1, 0));
    let places = asked(&study);
    let judged = places.iter().find(|place| place.id == kept[0].presentation);
    assert_eq!(judged.unwrap().voided, 0);
}

#[tokio::test]
async fn sound_that_breaks_off_again_and_again_gets_a_kind_word_and_an_end() {
    let (study, _server, browser) = begun().await;
    for _ in 0..3 {
        browser.let_it_sound().await;
        browser.js("window.dispatchEvent(new Event('blur'))").await;
        browser.all_saved().await;
    }
    browser.until_said("keeps_breaking").await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    let shown = browser
        .js("return document.querySelector('[data-say=keeps_breaking]').hidden")
        .await;
    assert_eq!(shown, json!(true));
    browser.close().await;
    assert_eq!(study.judgements().len(), 1);
}
