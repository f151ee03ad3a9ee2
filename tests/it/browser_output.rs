//! What goes to the output in a real browser: how loud, what keeps it awake, and when a word has left it.

use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;

/// Keeps every gain, the last one before the output, every loop that the page plays, and when a word's own clock had run to its end.
const WATCH: &str = "
    window.gains = [];
    window.loops = [];
    const connect = GainNode.prototype.connect;
    GainNode.prototype.connect = function (to, ...more) {
      window.gains.push(this);
      if (to === this.context.destination) window.last = this;
      return connect.call(this, to, ...more);
    };
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (...when) {
      if (this.loop) window.loops.push(Math.max(...this.buffer.getChannelData(0)));
      else this.addEventListener('ended', () => (window.endedAt = performance.now()));
      start.apply(this, when);
    };";

/// Her output tells that it is two seconds late.
const LATE: &str = "
    Object.defineProperty(AudioContext.prototype, 'outputLatency', { get: () => 2 });
    AudioContext.prototype.getOutputTimestamp = () => ({ contextTime: 0, performanceTime: 0 });";

async fn begun(script: &str) -> (Study, Server, Browser) {
    let study = Study::with().practice(0).warm_ups(0).sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    let link = format!("{}{}", server.address, study.links()[0].path);
    browser.begin_by_keyboard(&link).await;
    browser.before_every_page(script).await;
    browser.client.refresh().await.unwrap();
    browser.until_said("ready").await;
    (study, server, browser)
}

#[tokio::test]
async fn words_begin_softly_are_never_louder_than_prepared_and_the_output_stays_awake() {
    let (_study, _server, browser) = begun(WATCH).await;
    let gain = async || {
        let gain = browser.js("return window.last.gain.value").await;
        gain.as_f64().unwrap()
    };
    assert!(browser.hear().await);
    // 18 dB below full scale is a factor of 10^(-18/20): the definition of the decibel for amplitudes.
    assert!((gain().await - 10_f64.powf(-18.0 / 20.0)).abs() < 1e-6);
    let loops = browser.js("return window.loops").await;
    let peak = loops[0].as_f64().unwrap();
    assert!(
        peak > 0.0 && peak <= 1.001e-4,
        "noise 80 dB under full scale: {peak}"
    );
    browser
        .js("const level = document.getElementById('level');
             level.value = 24;
             level.dispatchEvent(new Event('input'))")
        .await;
    // A gain that nothing runs through stays as it is: it follows while the word is heard again.
    browser.hear_again().await;
    let loudest = gain().await;
    assert!(loudest > 0.999 && loudest <= 1.0, "{loudest}");
    assert_eq!(browser.js("return window.gains.length > 1 && window.gains.every((gain) => gain.gain.value <= 1)").await, json!(true));
    browser.close().await;
}

#[tokio::test]
async fn no_answer_is_taken_before_a_late_output_has_let_the_word_out_and_the_time_counts_from_there()
 {
    let (study, _server, browser) = begun(&format!("{WATCH}{LATE}")).await;
    assert!(browser.hear().await);
    let times = browser
        .js("const button = document.querySelector('.answer');
             const openedAt = performance.now();
             button.click();
             return [openedAt, window.endedAt]")
        .await;
    let pressed_after_end = times[0].as_f64().unwrap() - times[1].as_f64().unwrap();
    // The clock may tell of its end some hundred milliseconds late on a busy machine.
    assert!(pressed_after_end > 1500.0, "{pressed_after_end}");
    browser.all_saved().await;
    browser.close().await;
    let told = f64::from(study.judgements()[0].rt_ms.unwrap());
    let expected = pressed_after_end - 2000.0;
    assert!((told - expected).abs() < 500.0, "{told} for {expected}");
}
