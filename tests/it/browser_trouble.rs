//! What goes wrong in real life, in a real browser: no answer is lost and none is kept twice.

use axum::http::StatusCode;
use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::study::PresentationId;
use fairhearing::study::PresentationKind;
use fantoccini::wd::WindowHandle;
use serde_json::json;

use crate::support::Browser;
use crate::support::Proxy;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// A study whose first listener has begun, and her browser.
async fn begun() -> (Study, Server, Browser) {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    (study, server, browser)
}

#[tokio::test]
async fn answers_given_while_the_server_is_dead_arrive_when_it_lives_again() {
    let (study, mut server, browser) = begun().await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    // The two words ahead are in the browser already.
    browser.until("return performance.getEntriesByType('resource').filter((got) => got.name.includes('/listen/sound/')).length >= 3").await;
    server.kill();
    for answer in [key::RIGHT, key::LEFT] {
        assert!(browser.hear().await);
        browser.press(answer).await;
    }
    browser
        .until("return document.querySelector('[data-kept=unsent]').textContent.includes('2')")
        .await;
    assert_eq!(study.judgements().len(), 1);
    let _again = Server::start_on(&study.folder(), server.host());
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 3);
}

#[tokio::test]
async fn a_word_that_has_not_come_yet_waits_for_the_connection_and_is_not_called_broken() {
    let (study, _server, browser) = begun().await;
    browser
        .before_every_page(
            "const ask = window.fetch.bind(window);
             window.away = true;
             window.fetch = (address, ...how) => window.away && String(address).includes('/listen/sound/')
               ? Promise.reject(new TypeError('no network')) : ask(address, ...how);",
        )
        .await;
    browser.client.refresh().await.unwrap();
    browser.until_said("ready").await;
    browser.press(key::SPACE).await;
    browser.until_said("offline").await;
    browser.js("window.away = false").await;
    browser.until_said("ready").await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

/// A tunnel or a portal says that nothing is here while it does not reach the server.
#[tokio::test]
async fn an_answer_that_something_between_refuses_is_kept_and_sent_again() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let way = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    let link = format!("{}{}", way.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    assert!(browser.hear().await);
    way.refuse_answers(Some(StatusCode::NOT_FOUND));
    browser.press(key::LEFT).await;
    let begun = std::time::Instant::now();
    while way.refused() < 3 {
        assert!(begun.elapsed().as_secs() < 40, "it is not sent again");
        tokio::time::sleep(std::time::Duration::from_millis(30)).await;
    }
    assert!(study.judgements().is_empty());
    way.refuse_answers(None);
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

#[tokio::test]
async fn an_answer_that_waits_outlives_its_page() {
    let (study, mut server, browser) = begun().await;
    assert!(browser.hear().await);
    server.kill();
    browser.press(key::LEFT).await;
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    browser.go("about:blank").await;
    let again = Server::start_on(&study.folder(), server.host());
    browser.go(&format!("{}/listen", again.address)).await;
    browser.all_saved().await;
    browser
        .until("return document.getElementById('number').textContent.includes('2')")
        .await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

#[tokio::test]
async fn what_one_tab_keeps_is_not_lost_by_what_another_keeps() {
    let (study, mut server, browser) = begun().await;
    let first = browser.client.window().await.unwrap();
    let second = browser.client.new_window(true).await.unwrap().handle;
    let switch_to = async |tab: &WindowHandle| {
        browser.client.switch_to_window(tab.clone()).await.unwrap();
    };
    switch_to(&second).await;
    browser.go(&format!("{}/listen", server.address)).await;
    browser.until_said("ready").await;
    let here = "return performance.getEntriesByType('resource').filter((got) => got.name.includes('/listen/sound/') && got.responseEnd > 0).length > 0";
    browser.until(here).await;
    switch_to(&first).await;
    assert!(browser.hear().await);
    server.kill();
    browser.press(key::LEFT).await;
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    // The other tab keeps that it played the word; then both are gone.
    switch_to(&second).await;
    assert!(browser.hear().await);
    browser.go("about:blank").await;
    switch_to(&first).await;
    browser.go("about:blank").await;
    let again = Server::start_on(&study.folder(), server.host());
    browser.go(&format!("{}/listen", again.address)).await;
    browser.all_saved().await;
    browser
        .until("return document.getElementById('number').textContent.includes('2')")
        .await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

#[tokio::test]
async fn an_answer_after_the_round_is_over_is_met_by_the_page_that_says_so() {
    let (study, _server, browser) = begun().await;
    assert!(browser.hear().await);
    let round = &study.round.as_ref().unwrap().round;
    app::close(&study.workspace, round, Now::read()).unwrap();
    browser.press(key::LEFT).await;
    browser
        .until("return document.querySelector('h1').textContent === 'This listening round is over'")
        .await;
    browser.close().await;
    assert!(study.judgements().is_empty());
}

#[tokio::test]
async fn a_reload_and_the_back_button_lose_nothing() {
    let (study, _server, browser) = begun().await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.client.refresh().await.unwrap();
    assert!(browser.hear().await);
    browser.client.refresh().await.unwrap();
    assert!(browser.hear().await);
    browser.press(key::RIGHT).await;
    browser.all_saved().await;
    browser.client.back().await.unwrap();
    browser.client.forward().await.unwrap();
    browser
        .until("return document.getElementById('sitting') !== null")
        .await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 3);
}

#[tokio::test]
async fn a_second_tab_changes_no_answer_and_goes_on() {
    let (study, server, browser) = begun().await;
    let first = browser.client.window().await.unwrap();
    let second = browser.client.new_window(true).await.unwrap().handle;
    browser.client.switch_to_window(second).await.unwrap();
    browser.go(&format!("{}/listen", server.address)).await;
    assert!(browser.hear().await);
    browser.client.switch_to_window(first).await.unwrap();
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    let windows = browser.client.windows().await.unwrap();
    browser
        .client
        .switch_to_window(windows[1].clone())
        .await
        .unwrap();
    browser.press(key::RIGHT).await;
    browser.until_said("elsewhere").await;
    browser.all_saved().await;
    assert!(browser.hear().await);
    browser.press(key::RIGHT).await;
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 2);
}

#[tokio::test]
async fn the_sitting_goes_on_at_the_same_place_in_another_browser() {
    let (study, server, browser) = begun().await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    let other = Browser::open().await;
    other
        .go(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    other.check_sound_here().await;
    other
        .until("return document.getElementById('number')?.textContent.includes('2') ?? false")
        .await;
    assert!(other.hear().await);
    other.press(key::RIGHT).await;
    other.all_saved().await;
    other.close().await;
    assert_kept_in_order(&study, 2);
}

#[tokio::test]
async fn a_sound_that_the_browser_refuses_shows_a_button_and_never_a_silent_word() {
    let (study, _server, browser) = begun().await;
    browser
        .js("window.plain = window.AudioContext;
             window.AudioContext = class extends window.plain {
               get state() { return 'suspended'; }
               get currentTime() { return 0; }
               resume() { return new Promise(() => {}); }
             };")
        .await;
    browser.press(key::SPACE).await;
    browser.until_said("blocked").await;
    browser.press(key::LEFT).await;
    assert_eq!(
        browser
            .js("return document.querySelectorAll('[aria-pressed=true]').length")
            .await,
        json!(0)
    );
    browser.js("window.AudioContext = window.plain").await;
    assert!(browser.hear().await, "the next press plays the word");
    browser.close().await;
    assert!(study.judgements().is_empty());
}

#[tokio::test]
async fn a_browser_that_keeps_nothing_still_sends_every_answer() {
    let (study, _server, browser) = begun().await;
    browser
        .js("Storage.prototype.setItem = () => { throw new DOMException('no room', 'QuotaExceededError'); }")
        .await;
    for _ in 0..2 {
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
    }
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 2);
}

/// What is only in the page is said to be so, and the browser asks before the page is left.
#[tokio::test]
async fn an_answer_that_no_storage_keeps_is_not_said_to_be_kept() {
    let (study, mut server, browser) = begun().await;
    browser
        .js("Storage.prototype.setItem = () => { throw new DOMException('no room', 'QuotaExceededError'); }")
        .await;
    let asks_first = "const leaving = new Event('beforeunload', { cancelable: true });
        window.dispatchEvent(leaving);
        return leaving.defaultPrevented";
    assert!(browser.hear().await);
    server.kill();
    browser.press(key::LEFT).await;
    browser
        .until("return document.querySelector('[data-kept=loose]').textContent.includes('1') && !document.querySelector('[data-kept=loose]').hidden")
        .await;
    assert_eq!(browser.js(asks_first).await, json!(true));
    let _again = Server::start_on(&study.folder(), server.host());
    browser.all_saved().await;
    assert_eq!(browser.js(asks_first).await, json!(false));
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

#[tokio::test]
async fn a_browser_that_does_not_even_let_storage_be_touched_sends_every_answer_too() {
    let (study, _server, browser) = begun().await;
    browser
        .before_every_page(
            "Object.defineProperty(window, 'localStorage', {
               get() { throw new DOMException('not here', 'SecurityError'); }
             });",
        )
        .await;
    browser.client.refresh().await.unwrap();
    let touched = "try { return String(localStorage); } catch (error) { return error.name; }";
    assert_eq!(browser.js(touched).await, json!("SecurityError"));
    for _ in 0..2 {
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
    }
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 2);
}

#[tokio::test]
async fn a_clock_set_to_another_year_changes_no_answer_and_no_response_time() {
    let (study, _server, browser) = begun().await;
    browser
        .js("const real = Date.now.bind(Date);
             const year = 365 * 24 * 3600 * 1000;
             let wrong = -20 * year;
             setInterval(() => { wrong += 3 * year; }, 50);
             Date.now = () => real() + wrong;
             window.Date = class extends Date { constructor() { super(Date.now()); } };")
        .await;
    for _ in 0..2 {
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
        browser.all_saved().await;
    }
    browser.close().await;
    assert_kept_in_order(&study, 2);
    for row in study.judgements() {
        assert!(row.rt_ms.is_some_and(|ms| ms < 60_000), "{:?}", row.rt_ms);
    }
}

/// Ten minutes without a connection, for the page's scripts: their timers run sixty times as fast.
#[tokio::test]
async fn a_connection_gone_for_ten_minutes_is_asked_for_ever_more_rarely_and_loses_nothing() {
    let (study, mut server, browser) = begun().await;
    assert!(browser.hear().await);
    browser.js(SIXTY_TIMES_AS_FAST).await;
    server.kill();
    browser.press(key::RIGHT).await;
    let ten_minutes = std::time::Duration::from_secs(600 / 60);
    tokio::time::sleep(ten_minutes).await;
    let tried = browser.js("return window.asked").await.as_u64().unwrap();
    // Twice as long after each try, up to half a minute: about 25 in ten minutes.
    assert!((8..=30).contains(&tried), "{tried} tries in ten minutes");
    assert!(study.judgements().is_empty());
    let _again = Server::start_on(&study.folder(), server.host());
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
}

const SIXTY_TIMES_AS_FAST: &str = "
    const timer = window.setTimeout.bind(window);
    window.setTimeout = (act, wait) => timer(act, wait / 60);
    const ask = window.fetch.bind(window);
    window.asked = 0;
    window.fetch = (...what) => { window.asked += 1; return ask(...what); };";

/// The first `count` words of the sitting, and no others, have one judgement each, in order.
#[track_caller]
fn assert_kept_in_order(study: &Study, count: usize) {
    let asked: Vec<PresentationId> = study
        .store()
        .read(|reading| {
            let listener = reading.enrolments(reading.rounds()?[0].id)?[0].id;
            let sitting = reading.sittings_of(listener)?[0].id;
            reading.presentations_of(sitting)
        })
        .unwrap()
        .into_iter()
        // What was cut short, as on a machine with no time to spare, came back.
        .filter(|place| place.kind != PresentationKind::Example && place.voided == 0)
        .map(|place| place.id)
        .take(count)
        .collect();
    let kept: Vec<_> = study
        .judgements()
        .iter()
        .map(|row| row.presentation)
        .collect();
    assert_eq!(kept, asked);
}
