//! The listener's pages are there for everyone: an accessibility engine finds nothing, they fit a
//! narrow phone and doubled text, and every target is large enough for a thumb.

use fairhearing::app;
use fairhearing::app::Invitation;
use fairhearing::app::Now;
use fairhearing::app::WhichLink;
use fairhearing::study::RoundName;
use serde_json::json;

use crate::browser_everyone::LOADED;
use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;

/// The engine, put there by `scripts/test` from the npm registry.
pub(crate) const AXE: &str = concat!(
    env!("CARGO_TARGET_TMPDIR"),
    "/axe/node_modules/axe-core/axe.min.js"
);

/// Runs the engine over WCAG 2.2 A and AA and says what it found.
pub(crate) const RUN_AXE: &str = "const done = arguments[arguments.length - 1];
    axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })
      .then((found) => done(found.violations.map((rule) => rule.id + ': ' + rule.nodes.map((node) => node.html).join(' | '))));";

/// What is wider than the page.
pub(crate) const TOO_WIDE: &str =
    "return document.documentElement.scrollWidth > document.documentElement.clientWidth";

/// Everything to press that is smaller than 44 by 44.
pub(crate) const TOO_SMALL: &str = "return [...document.querySelectorAll('button, summary, label.choice, [type=range], textarea, a.button')]
    .filter((target) => target.checkVisibility())
    .map((target) => [target.textContent.trim(), target.getBoundingClientRect()])
    .filter(([, box]) => box.width < 44 || box.height < 44)
    .map(([name, box]) => `${name}: ${box.width} x ${box.height}`)";

#[tokio::test]
async fn an_accessibility_engine_finds_nothing_on_any_page_in_light_or_dark() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    let study = everything();
    let server = Server::start(&study.folder());
    for (browser, link) in [Browser::open().await, Browser::open_dark().await]
        .into_iter()
        .zip(study.links())
    {
        let halts = browser
            .walk(&format!("{}{}", server.address, link.path), async |page| {
                browser.js(&axe).await;
                let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
                assert_eq!(found, json!([]), "{page}");
            })
            .await;
        assert_eq!(halts, ["A little more practice", "Time for a breath"]);
        browser.close().await;
    }
}

#[tokio::test]
async fn every_page_fits_a_narrow_phone_with_targets_for_a_thumb() {
    let study = everything();
    let server = Server::start(&study.folder());
    let browser = Browser::open_phone(320).await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser
        .walk(&link, async |page| {
            assert_eq!(
                browser.js(TOO_WIDE).await,
                json!(false),
                "{page} is wider than 320 px"
            );
            assert_eq!(browser.js(TOO_SMALL).await, json!([]), "{page}");
        })
        .await;
    browser.close().await;
}

#[tokio::test]
async fn every_page_bears_text_of_twice_the_size() {
    let study = everything();
    let server = Server::start(&study.folder());
    let browser = Browser::open_phone(640).await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser
        .walk(&link, async |page| {
            browser
                .js("document.documentElement.style.fontSize = '200%'")
                .await;
            assert_eq!(
                browser.js(TOO_WIDE).await,
                json!(false),
                "{page} is wider than its window"
            );
        })
        .await;
    browser.close().await;
}

#[tokio::test]
async fn left_stays_left_where_the_language_runs_from_right_to_left() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open_phone(390).await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    let order = "return [...document.querySelectorAll('.answer')].sort((a, b) => a.getBoundingClientRect().left - b.getBoundingClientRect().left).map((answer) => answer.dataset.answer)";
    let before = browser.js(order).await;
    browser.js("document.documentElement.dir = 'rtl'").await;
    assert_eq!(browser.js(order).await, before);
    assert_eq!(browser.js(TOO_WIDE).await, json!(false));
    browser.close().await;
}

#[tokio::test]
async fn nothing_is_announced_and_no_focus_moves_while_a_word_sounds() {
    let study = Study::with().sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.tab_to("#next").await;
    browser.watch_the_audio_clock().await;
    browser
        .js(
            "window.told = [];
             const listens = () => (window.audioClock?.currentTime ?? 0) > 0.15 &&
               document.querySelector('.answer').getAttribute('aria-disabled') === 'true';
             new MutationObserver(() => {
               if (listens()) window.told.push(document.getElementById('said').innerText);
             }).observe(document.getElementById('said'), { subtree: true, childList: true, characterData: true, attributes: true });
             document.addEventListener('focusin', () => { if (listens()) window.told.push('focus'); });",
        )
        .await;
    assert!(browser.hear().await);
    assert_eq!(browser.js("return window.told").await, json!([]));
    let focused = browser.js("return document.activeElement.id").await;
    assert_eq!(
        focused,
        json!("next"),
        "the focus stays on the button that was pressed"
    );
    browser.close().await;
}

/// The pages beside a sitting: an open link, the way back, withdrawal, and a laptop that is handed round.
async fn walk_beside(browser: &Browser, study: &Study, server: &Server, look: impl AsyncFn(&str)) {
    let address = |path: &str| format!("{}{path}", server.address);
    browser.go(&address(&study.open_link().path)).await;
    look("an open link").await;
    browser.click("form button").await;
    browser
        .until("return location.pathname === '/listen/way-back'")
        .await;
    look("the way back").await;
    walk_where_no_link_leads(browser, study, server, &look).await;
    browser.go(&address("/withdraw")).await;
    look("withdrawal").await;
    browser
        .js("document.getElementById('number').value = 'hello'")
        .await;
    browser.click("[name=sure]").await;
    browser.click("form button").await;
    browser
        .until("return document.getElementById('refused') !== null")
        .await;
    look("a number that is no receipt").await;
    // A browser does not tell one port of a machine from another by its cookies.
    browser.client.delete_all_cookies().await.unwrap();
    let (laptop, codes) = Server::start_for_one_laptop(&study.folder());
    browser.go(&format!("{}/start", laptop.address)).await;
    browser
        .js("document.getElementById('code').value = '222222'")
        .await;
    browser.click("form button").await;
    browser
        .until("return document.getElementById('unknown') !== null")
        .await;
    look("a code that is not known").await;
    browser
        .js(&format!(
            "document.getElementById('code').value = {:?}",
            codes[0]
        ))
        .await;
    browser.click("form button").await;
    browser
        .until("return location.pathname === '/listen'")
        .await;
    look("consent on a laptop that is handed round").await;
    browser.click(".masthead a").await;
    browser
        .until("return document.getElementById('hand') !== null")
        .await;
    look("the hand-over").await;
    browser.click("#hand button").await;
    browser.until("return location.pathname === '/start'").await;
    look("the start").await;
}

/// Links that let nobody in: used up, run out, taken back; and a round that rests.
async fn walk_where_no_link_leads(
    browser: &Browser,
    study: &Study,
    server: &Server,
    look: impl AsyncFn(&str),
) {
    let round = RoundName::new("spring").unwrap();
    let invite = |now: Now, days| {
        let wanted = Invitation {
            listeners: 1,
            days,
            ..Invitation::default()
        };
        let invited = app::invite(&study.workspace, &round, &wanted, now).unwrap();
        invited.links[0].clone()
    };
    let two_days_ago = Now::at_ms(Now::read().ms() - 2 * 24 * 3_600_000);
    let old = invite(two_days_ago, Some(1));
    let taken_back = invite(Now::read(), None);
    let which = WhichLink::Personal(taken_back.number);
    app::revoke(&study.workspace, &round, which, Now::read()).unwrap();
    let used_up = study.open_link();
    for (page, path) in [
        ("a link that is used up", &used_up.path),
        ("a link that has run out", &old.path),
        ("a link that was taken back", &taken_back.path),
    ] {
        browser.client.delete_all_cookies().await.unwrap();
        browser.go(&format!("{}{path}", server.address)).await;
        browser
            .until("return document.querySelector('h1') !== null")
            .await;
        look(page).await;
    }
    app::pause(&study.workspace, &round, Now::read()).unwrap();
    let fresh = format!("{}{}", server.address, study.links()[0].path);
    browser.go(&fresh).await;
    look("a round that rests").await;
    app::resume(&study.workspace, &round, Now::read()).unwrap();
}

#[tokio::test]
async fn a_round_that_is_over_is_told_on_a_page_for_everyone() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    let study = Study::with().words(1).sealed();
    let server = Server::start(&study.folder());
    let round = RoundName::new("spring").unwrap();
    app::close(&study.workspace, &round, Now::read()).unwrap();
    let browser = Browser::open_phone(320).await;
    browser
        .go(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    browser
        .until("return document.querySelector('h1') !== null")
        .await;
    assert_eq!(browser.js(TOO_WIDE).await, json!(false));
    assert_eq!(browser.js(TOO_SMALL).await, json!([]));
    browser.js(&axe).await;
    let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
    assert_eq!(found, json!([]));
    browser.close().await;
}

#[tokio::test]
async fn the_pages_beside_a_sitting_are_light_and_ask_no_other_host() {
    let study = Study::with().words(1).open(1).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    walk_beside(&browser, &study, &server, async |page| {
        let loaded = browser.js(LOADED).await;
        let bytes = loaded[0].as_u64().unwrap();
        assert!((1_000..60_000).contains(&bytes), "{page}: {bytes} bytes");
        assert_eq!(loaded[1], json!([]), "{page}");
    })
    .await;
    browser.close().await;
}

#[tokio::test]
async fn an_accessibility_engine_finds_nothing_on_the_pages_beside_a_sitting() {
    let axe = std::fs::read_to_string(AXE)
        .expect("the accessibility engine is here: scripts/test installs it with npm");
    for browser in [Browser::open().await, Browser::open_dark().await] {
        let study = Study::with().words(1).open(1).sealed();
        let server = Server::start(&study.folder());
        walk_beside(&browser, &study, &server, async |page| {
            browser.js(&axe).await;
            let found = browser.client.execute_async(RUN_AXE, vec![]).await.unwrap();
            assert_eq!(found, json!([]), "{page}");
        })
        .await;
        browser.close().await;
    }
}

#[tokio::test]
async fn the_pages_beside_a_sitting_fit_a_narrow_phone_with_targets_for_a_thumb() {
    let study = Study::with().words(1).open(1).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open_phone(320).await;
    walk_beside(&browser, &study, &server, async |page| {
        assert_eq!(
            browser.js(TOO_WIDE).await,
            json!(false),
            "{page} is wider than 320 px"
        );
        assert_eq!(browser.js(TOO_SMALL).await, json!([]), "{page}");
    })
    .await;
    browser.close().await;
}

/// A study whose plan asks and shows everything that there is.
fn everything() -> Study {
    let course = "[practice]\npass = 1.0\ntries = 2\n[rests]\nevery = 4\n[sound_check]\n\
                  headphones = \"record\"\n[questions]\nask = [\"first-language\", \"age\", \
                  \"hearing\", \"experience\", \"acquaintance\"]\n";
    Study::with()
        .words(1)
        .practice(2)
        .course(course.to_owned())
        .texts("assent = \"You may stop.\"\npayment = \"It stays as agreed.\"\n".to_owned())
        .sealed()
}
