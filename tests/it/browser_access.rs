//! What tests ask of a page so that it is there for everyone, and that nothing speaks over a word.

use serde_json::json;

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
