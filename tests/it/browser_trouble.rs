//! What goes wrong in real life, in a real browser: no answer is lost and none is kept twice.

use fairhearing::study::PresentationId;
use fairhearing::study::PresentationKind;
use serde_json::json;

use crate::support::Browser;
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
async fn a_word_during_which_the_output_sleeps_does_not_count_as_heard() {
    let (study, _server, browser) = begun().await;
    browser
        .js("const proto = AudioBufferSourceNode.prototype;
             const start = proto.start;
             proto.start = function (when) {
               start.call(this, when);
               if (this.loop) return;
               proto.start = start;
               const { context } = this;
               const sleep = setInterval(() => {
                 if (context.currentTime < when + 0.2) return;
                 clearInterval(sleep);
                 context.suspend();
               }, 5);
             };")
        .await;
    browser.press(key::SPACE).await;
    browser.until_said("interrupted").await;
    browser.press(key::LEFT).await;
    assert!(browser.hear().await, "the word can be played again");
    browser.press(key::LEFT).await;
    browser.all_saved().await;
    browser.close().await;
    assert_kept_in_order(&study, 1);
    assert_eq!(study.judgements()[0].replays, 0);
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

/// Trouble at random places of a whole sitting; `FAIRHEARING_TROUBLES` sets how often (usually 6).
#[tokio::test]
async fn trouble_at_random_places_loses_nothing_and_doubles_nothing() {
    let troubles: u32 =
        std::env::var("FAIRHEARING_TROUBLES").map_or(6, |count| count.parse().unwrap());
    let study = Study::with()
        .words(troubles.div_ceil(4))
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let mut server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    let mut chance = 20_250_602_u64;
    let mut acknowledged = Vec::new();
    while browser.hear().await {
        chance = chance
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        let host = server.host().to_owned();
        let trouble = (chance >> 33) % 4;
        if trouble == 0 {
            server.kill();
        }
        let right = (chance >> 40) % 2 == 1;
        browser
            .press(if right { key::RIGHT } else { key::LEFT })
            .await;
        match trouble {
            0 => server = Server::start_on(&study.folder(), &host),
            1 => {
                server.kill();
                browser.go("about:blank").await;
                server = Server::start_on(&study.folder(), &host);
                browser.go(&format!("{}/listen", server.address)).await;
            }
            2 => browser.client.refresh().await.unwrap(),
            _ => {}
        }
        browser.until("return !document.getElementById('sitting') || !document.querySelector('[data-kept=saved]').hidden").await;
        acknowledged.push(right);
        assert_eq!(
            study.judgements().len(),
            acknowledged.len(),
            "trouble {trouble}"
        );
        if browser
            .js("return !document.getElementById('sitting')")
            .await
            == json!(true)
        {
            break;
        }
    }
    browser.close().await;
    assert_kept_in_order(&study, acknowledged.len());
    assert!(acknowledged.len() >= troubles as usize);
    let right = study.judgements()[0].answer;
    for (row, pressed) in study.judgements().iter().zip(&acknowledged) {
        assert_eq!(row.answer == right, *pressed == acknowledged[0]);
    }
}

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
        .filter(|place| place.kind != PresentationKind::Example)
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
