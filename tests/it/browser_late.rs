//! What comes late or never, in a real browser: answers of the server that are held back while a word sounds,
//! a connection that swallows what it is given, another listener at the same browser.

use fairhearing::app;
use fairhearing::app::Now;
use fairhearing::store::PresentationRow;
use fairhearing::store::PresentationState;
use fairhearing::study::PresentationKind;
use fairhearing::study::SetAside;
use serde_json::json;

use crate::support::Browser;
use crate::support::Proxy;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

/// Holds back what the server says to an answer as long as `window.holds`; `window.refusal` is said in its stead.
const HOLDING: &str = "
    const ask = window.fetch.bind(window);
    window.holds = false;
    window.refusal = 0;
    window.fetch = async (address, ...how) => {
      const isAnswer = /judgement|aside/.test(String(address));
      const refused = isAnswer && window.refusal > 0;
      const problem = { status: window.refusal, headers: { 'content-type': 'application/problem+json' } };
      const answer = refused ? new Response('{}', problem) : await ask(address, ...how);
      while (isAnswer && window.holds) await new Promise((wait) => setTimeout(wait, 20));
      return answer;
    };";

/// Counts what the page begins to say while a word sounds, silence apart.
const LISTENS_FOR_TALK: &str = "
    window.talkedOver = 0;
    const page = document.getElementById('sitting');
    new MutationObserver((changes) => {
      for (const { target } of changes) {
        if (page.classList.contains('listening') && !target.hidden) window.talkedOver += 1;
      }
    }).observe(document.getElementById('said'), { subtree: true, attributeFilter: ['hidden'] });";

const SOUNDS_AGAIN: &str = "return document.querySelector('#sitting.listening') !== null && window.soundingSince + 300 < performance.now()";

const MAY_ANSWER: &str =
    "return document.querySelector('.answer').getAttribute('aria-disabled') === 'false'";

/// A study of one listener whose browser holds answers back when it is told to.
async fn begun(study: Study) -> (Study, Server, Browser) {
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.before_every_page(HOLDING).await;
    browser.with_long_words().await;
    browser.until_said("ready").await;
    (study, server, browser)
}

/// Answers on the left, and hears the word once more before the server has said anything.
async fn answer_and_hear_again(browser: &Browser) {
    assert!(browser.hear().await);
    browser
        .js(&format!("window.holds = true; {LISTENS_FOR_TALK}"))
        .await;
    browser.press(key::LEFT).await;
    browser.js("window.soundingSince = Infinity").await;
    browser.press(key::UP).await;
    browser.until(SOUNDS_AGAIN).await;
}

fn asked(study: &Study, listener: usize) -> Vec<PresentationRow> {
    let mut places = study
        .store()
        .read(|reading| {
            let enrolment = reading.enrolments(reading.rounds()?[0].id)?[listener].id;
            reading.presentations_of(reading.sittings_of(enrolment)?[0].id)
        })
        .unwrap();
    places.retain(|place| place.kind != PresentationKind::Example);
    places
}

#[tokio::test]
async fn feedback_that_comes_while_the_word_sounds_again_waits_for_its_end() {
    let study = Study::with().words(3).replays(2).warm_ups(0).sealed();
    let (_study, _server, browser) = begun(study).await;
    answer_and_hear_again(&browser).await;
    browser.js("window.holds = false").await;
    browser
        .until("return document.querySelector('[data-kept=saved]').hidden === false")
        .await;
    assert_eq!(
        browser
            .js("return document.querySelector('#sitting.listening') !== null")
            .await,
        json!(true),
        "it still sounds"
    );
    browser
        .until("return [...document.querySelectorAll('[data-say^=feedback]')].some((said) => !said.hidden)")
        .await;
    assert_eq!(browser.js("return window.talkedOver").await, json!(0));
    browser.close().await;
}

#[tokio::test]
async fn a_word_refused_while_it_is_heard_again_opens_no_answer_of_the_next_one() {
    let study = Study::with()
        .words(3)
        .replays(2)
        .practice(0)
        .warm_ups(0)
        .sealed();
    let (study, _server, browser) = begun(study).await;
    let second = asked(&study, 0)[1].id;
    browser.js("window.refusal = 409").await;
    answer_and_hear_again(&browser).await;
    browser.js("window.holds = false").await;
    browser.until_said("elsewhere").await;
    // The replay would have ended by now, were it not broken off.
    tokio::time::sleep(std::time::Duration::from_secs(9)).await;
    assert_eq!(browser.js(MAY_ANSWER).await, json!(false));
    assert_eq!(
        browser
            .js("return document.querySelector('[data-label=hear]').hidden")
            .await,
        json!(false),
        "the next word is still to be heard"
    );
    browser.close().await;
    let sitting = asked(&study, 0)[0].sitting;
    let heard = study
        .store()
        .read(|reading| reading.heard_in(sitting))
        .unwrap();
    assert!(!heard.contains(&second));
}

/// Wireless without a way out takes everything and says nothing.
#[tokio::test]
async fn an_answer_that_is_swallowed_is_sent_again() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let way = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    let link = format!("{}{}", way.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    assert!(browser.hear().await);
    way.swallow_answers(true);
    browser.press(key::LEFT).await;
    let begun = std::time::Instant::now();
    // The page gives up after a quarter of a minute, and begins anew.
    while way.swallowed() < 2 {
        assert!(begun.elapsed().as_secs() < 90, "it is not sent again");
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    way.swallow_answers(false);
    browser.all_saved().await;
    browser.close().await;
    assert_eq!(study.judgements().len(), 1);
}

#[tokio::test]
async fn what_one_listener_left_unsent_is_never_sent_in_the_name_of_the_next_at_this_browser() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let way = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    let link_of = |listener: usize| format!("{}{}", way.address, study.links()[listener].path);
    browser.begin_by_keyboard(&link_of(0)).await;
    assert!(browser.hear().await);
    way.hold_answers(true);
    browser.press(key::LEFT).await;
    let unsent = "return !document.querySelector('[data-kept=unsent]').hidden";
    browser.until(unsent).await;
    let hers = browser.client.window().await.unwrap();
    let another = browser.client.new_window(true).await.unwrap().handle;
    browser.client.switch_to_window(another).await.unwrap();
    way.hold_answers(false);
    browser.begin_by_keyboard(&link_of(1)).await;
    browser.client.switch_to_window(hers).await.unwrap();
    browser
        .js("window.dispatchEvent(new Event('online'))")
        .await;
    browser.until_said("stranger").await;
    assert_eq!(browser.js(unsent).await, json!(true));
    assert!(study.judgements().is_empty());
    // With her own link it arrives, from the page on which she checks her sound again.
    browser.go(&link_of(0)).await;
    let begun = std::time::Instant::now();
    while study.judgements().is_empty() {
        assert!(begun.elapsed().as_secs() < 40, "{}", browser.page().await);
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    browser
        .until("return document.querySelector('#unsent > span').hidden")
        .await;
    browser.close().await;
    assert_eq!(study.judgements()[0].presentation, asked(&study, 0)[0].id);
    assert!(
        asked(&study, 1)
            .iter()
            .all(|place| place.state == PresentationState::Reserved)
    );
}

#[tokio::test]
async fn an_answer_that_waits_is_sent_from_the_page_of_a_round_that_rests() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let way = Proxy::before(&server.address).await;
    let browser = Browser::open().await;
    browser
        .begin_by_keyboard(&format!("{}{}", way.address, study.links()[0].path))
        .await;
    assert!(browser.hear().await);
    way.hold_answers(true);
    browser.press(key::LEFT).await;
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    let round = &study.round.as_ref().unwrap().round;
    app::pause(&study.workspace, round, Now::read()).unwrap();
    browser.go(&format!("{}/listen", way.address)).await;
    browser
        .until("return document.querySelector('#unsent > span')?.hidden === false")
        .await;
    way.hold_answers(false);
    browser
        .until("return document.querySelector('#unsent > span').hidden")
        .await;
    browser.close().await;
    assert_eq!(study.judgements().len(), 1);
}

#[tokio::test]
async fn after_a_known_speaker_no_word_comes_until_the_server_has_heard_of_it() {
    let study = Study::with()
        .words(4)
        .practice(0)
        .warm_ups(0)
        .checks(0)
        .repeats(0.0)
        .sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.before_every_page(HOLDING).await;
    browser.client.refresh().await.unwrap();
    browser.until_said("ready").await;
    let set_aside = async |reason: &str| {
        browser.tab_to("#aside summary").await;
        browser.press(key::ENTER).await;
        browser.tab_to(&format!("[data-aside={reason}]")).await;
        browser.press(key::ENTER).await;
    };
    for reason in ["noise", "another-word", "no-sound"] {
        set_aside(reason).await;
        browser.all_saved().await;
        browser.until_said("ready").await;
    }
    browser.js("window.holds = true").await;
    set_aside("known-speaker").await;
    browser.until_said("loading").await;
    assert_eq!(
        browser
            .js("return document.getElementById('next').getAttribute('aria-disabled')")
            .await,
        json!("true")
    );
    browser.js("window.holds = false").await;
    while browser.hear().await {
        browser.press(key::LEFT).await;
        browser.all_saved().await;
    }
    browser.close().await;
    let places = asked(&study, 0);
    let reasons: Vec<_> = places.iter().take(4).map(|place| place.aside).collect();
    let four = [
        SetAside::Noise,
        SetAside::AnotherWord,
        SetAside::NoSound,
        SetAside::KnownSpeaker,
    ];
    assert_eq!(reasons, four.map(Some));
    let tokens = study
        .store()
        .read(|reading| reading.round_tokens(reading.rounds()?[0].id))
        .unwrap();
    let child_of = |place: &PresentationRow| {
        let token = tokens.iter().find(|token| token.id == place.token);
        token.and_then(|token| token.child)
    };
    let known = child_of(&places[3]);
    let judged: Vec<_> = places
        .iter()
        .filter(|place| place.state == PresentationState::Judged)
        .collect();
    assert!(judged.len() > 3);
    assert!(judged.iter().all(|place| child_of(place) != known));
}

#[tokio::test]
async fn a_rest_comes_though_the_connection_was_gone_at_its_last_word() {
    let study = Study::with()
        .words(3)
        .replays(2)
        .practice(0)
        .warm_ups(0)
        .course(
            "[practice]\npass = 0.0\n[rests]\nevery = 2\n[sound_check]\nfirst_sound = \"off\"\n"
                .to_owned(),
        )
        .sealed();
    let mut server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    for _ in 0..2 {
        assert!(browser.hear().await);
        browser.press(key::LEFT).await;
        browser.all_saved().await;
    }
    server.kill();
    browser.hear_again().await;
    browser.press(key::SPACE).await;
    browser.until_said("offline").await;
    let _again = Server::start_on(&study.folder(), server.host());
    browser
        .until("return document.querySelector('[action^=\"/listen/go-on\"]') !== null")
        .await;
    browser.close().await;
}

#[tokio::test]
async fn she_who_turns_away_while_the_output_wakes_misses_nothing() {
    let study = Study::with().words(3).practice(0).warm_ups(0).sealed();
    let (study, _server, browser) = begun(study).await;
    browser
        .js("document.hasFocus = () => false; window.dispatchEvent(new Event('blur'))")
        .await;
    browser.press(key::SPACE).await;
    browser.until_said("interrupted").await;
    browser
        .js("document.hasFocus = () => true; window.dispatchEvent(new Event('focus'))")
        .await;
    browser.let_it_sound().await;
    browser.close().await;
    assert!(asked(&study, 0).iter().all(|place| place.voided == 0));
}

/// The letters of two tabs lie in the browser in the order in which they were answered.
#[tokio::test]
async fn what_waits_keeps_its_order_whoever_answers_next() {
    let study = Study::with()
        .words(3)
        .replays(2)
        .practice(0)
        .warm_ups(0)
        .sealed();
    let (_study, mut server, browser) = begun_briefly(study).await;
    assert!(browser.hear().await);
    server.kill();
    browser.press(key::LEFT).await;
    let kept = "return JSON.parse(Object.entries(localStorage).find(([name]) => name.startsWith('fairhearing.unsent.'))[1])";
    browser
        .until("return !document.querySelector('[data-kept=unsent]').hidden")
        .await;
    browser
        .js("const [name, held] = Object.entries(localStorage).find(([name]) => name.startsWith('fairhearing.unsent.'));
             const another = { id: 'f'.repeat(32), to: 'judgement', body: {} };
             localStorage.setItem(name, JSON.stringify([...JSON.parse(held), another]));")
        .await;
    browser.hear_again().await;
    let kept = browser.js(kept).await;
    let ids: Vec<_> = kept
        .as_array()
        .unwrap()
        .iter()
        .map(|letter| {
            (
                letter["to"].as_str().unwrap(),
                letter["id"].as_str().unwrap() == "f".repeat(32),
            )
        })
        .collect();
    assert_eq!(
        &ids[ids.len() - 3..],
        [("judgement", false), ("judgement", true), ("played", false)]
    );
    browser.close().await;
}

async fn begun_briefly(study: Study) -> (Study, Server, Browser) {
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    (study, server, browser)
}
