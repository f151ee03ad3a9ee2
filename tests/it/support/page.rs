//! The listener's page in a browser: how a person gets through it.

use serde_json::json;

use super::Browser;
use super::browser::key;

/// An answer may be given.
const MAY_ANSWER: &str =
    "return document.querySelector('.answer')?.getAttribute('aria-disabled') === 'false'";

/// The page is that of the sitting.
const IN_SITTING: &str = "return document.getElementById('sitting') !== null";

/// The word may be played, or the page has gone on.
const MAY_GO_ON: &str = "const next = document.getElementById('next');
    return !next || next.getAttribute('aria-disabled') === 'false'";

/// The word has ended, something came between, the next word came too late to be played at once, or the sitting is over.
const ENDED: &str = "if (!document.getElementById('sitting')) return true;
    return document.querySelector('.answer').getAttribute('aria-disabled') === 'false' ||
      ['interrupted', 'cut_short', 'keeps_breaking', 'offline', 'blocked', 'ready', 'practice_over'].some((name) => !document.querySelector(`[data-say=${name}]`).hidden)";

/// A word has sounded for a while.
const SOUNDS: &str = "return (window.soundingSince ?? Infinity) + 300 < performance.now()";

/// The sound of a check was let out by the browser.
const NOT_BLOCKED: &str =
    "return [...document.querySelectorAll('#troubles > span')].every((trouble) => trouble.hidden)";

/// How often a word is played before the machine is too busy for sound.
const MANY_TRIES: u32 = 40;

impl Browser {
    /// From the link to the sitting, by keyboard alone.
    pub(crate) async fn begin_by_keyboard(&self, address: &str) {
        self.go(address).await;
        self.tab_to("[name=agreed]").await;
        self.press(key::SPACE).await;
        self.tab_to("form button").await;
        self.press(key::ENTER).await;
        self.check_sound_by_keyboard().await;
    }

    /// From the sound check to the sitting, by keyboard alone.
    pub(crate) async fn check_sound_by_keyboard(&self) {
        self.check_sound_here().await;
        self.until("return document.querySelector('[action^=\"/listen/begin\"]') !== null")
            .await;
        self.tab_to("form button").await;
        self.press(key::ENTER).await;
        self.until(IN_SITTING).await;
        self.until(MAY_GO_ON).await;
    }

    /// Plays the loudest word of a sound check to its end; again where the output did not wake in time.
    pub(crate) async fn hear_the_loudest(&self, play: impl AsyncFn()) {
        for _ in 0..MANY_TRIES {
            // The button is off from the press to the end of the word.
            play().await;
            self.until(
                "return document.getElementById('play').getAttribute('aria-disabled') === 'false'",
            )
            .await;
            if self.js(NOT_BLOCKED).await == json!(true) {
                return;
            }
        }
        panic!("the output never woke: {}", self.page().await);
    }

    /// Does the sound check of this device, by keyboard alone.
    pub(crate) async fn check_sound_here(&self) {
        self.until("return document.getElementById('play') !== null")
            .await;
        self.tab_to("#play").await;
        self.hear_the_loudest(async || self.press(key::ENTER).await)
            .await;
        self.tab_to("[name=device]").await;
        self.press(key::SPACE).await;
        self.tab_to("[name=heard]").await;
        self.press(key::SPACE).await;
        self.tab_to("form button:not([type=button])").await;
        self.press(key::ENTER).await;
    }

    /// Does a check of the sound check: plays each sound, and says these answers.
    pub(crate) async fn do_check(&self, check: &str, answers: &[u32]) {
        for answer in answers {
            self.play_in_check(check).await;
            self.click(&format!("[data-check={check}] [data-say-of=\"{answer}\"]"))
                .await;
        }
    }

    /// Plays the next sound of a check to its end.
    pub(crate) async fn play_in_check(&self, check: &str) {
        let may_tell = format!(
            "return document.querySelector('[data-check={check}] [data-say-of]').getAttribute('aria-disabled') === 'false'"
        );
        loop {
            self.click(&format!("[data-check={check}] [data-play]"))
                .await;
            let ended = format!(
                "return document.querySelector('[data-check={check}] [data-play]').getAttribute('aria-disabled') === 'false'"
            );
            self.until(&ended).await;
            if self.js(&may_tell).await == json!(true) {
                return;
            }
        }
    }

    /// Notes every audio clock that the page makes from now on, and how often it asks how late one is.
    pub(crate) async fn watch_the_audio_clock(&self) {
        self.js("const Plain = window.AudioContext;
             window.latencyAsked = 0;
             window.AudioContext = class extends Plain {
               constructor(wanted) { super(wanted); window.audioClock = this; }
               get outputLatency() { window.latencyAsked += 1; return super.outputLatency; }
               getOutputTimestamp() { window.latencyAsked += 1; return super.getOutputTimestamp(); }
             };")
            .await;
    }

    /// Whether the page has asked an audio clock how late it is.
    pub(crate) async fn has_asked_the_latency(&self) -> bool {
        self.js("return window.latencyAsked > 0").await == json!(true)
    }

    /// What the audio clock shows, in seconds; 0 before there is one.
    pub(crate) async fn audio_clock(&self) -> f64 {
        let shown = self.js("return window.audioClock?.currentTime ?? 0").await;
        shown.as_f64().unwrap()
    }

    /// Plays the next word by the space bar and waits for its end; a word that was interrupted, as
    /// on a machine with no time to spare, is played again. A word that was heard before the page was
    /// loaded is not played. False when the sitting is over.
    pub(crate) async fn hear(&self) -> bool {
        let ready = format!("return (() => {{ {MAY_GO_ON} }})() || (() => {{ {MAY_ANSWER} }})()");
        self.until(&ready).await;
        if self.js(MAY_GO_ON).await == json!(true) {
            self.press(key::SPACE).await;
        }
        self.hear_out().await
    }

    /// Waits for the end of a word that was begun.
    pub(crate) async fn hear_out(&self) -> bool {
        for _ in 0..MANY_TRIES {
            self.until(ENDED).await;
            if self.js(IN_SITTING).await != json!(true) {
                return false;
            }
            if self.js(MAY_ANSWER).await == json!(true) {
                return true;
            }
            self.until(MAY_GO_ON).await;
            self.press(key::SPACE).await;
        }
        panic!("no word came to its end: {}", self.page().await);
    }

    /// Plays the next word and waits until it sounds; words must be long ones.
    pub(crate) async fn let_it_sound(&self) {
        for _ in 0..MANY_TRIES {
            self.until(MAY_GO_ON).await;
            self.js("window.soundingSince = Infinity").await;
            self.press(key::SPACE).await;
            // A word that comes too late to be played at once is played by a second press.
            self.until(&format!(
                "return (() => {{ {SOUNDS} }})() || !document.querySelector('[data-say=ready]').hidden"
            ))
            .await;
            if self.js(SOUNDS).await == json!(true) {
                return;
            }
        }
        panic!("no word ever sounded: {}", self.page().await);
    }

    /// Hears the word again, by the key for it.
    pub(crate) async fn hear_again(&self) {
        // No answer may be given from the press to the end of the word.
        self.press(key::UP).await;
        self.until(MAY_ANSWER).await;
    }

    /// Waits until the page shows one of its sentences.
    pub(crate) async fn until_said(&self, name: &str) {
        self.until(&format!(
            "return document.querySelector('[data-say={name}]')?.hidden === false"
        ))
        .await;
    }

    /// Waits until every answer is acknowledged.
    pub(crate) async fn all_saved(&self) {
        self.until("return !document.querySelector('[data-kept=saved]').hidden")
            .await;
    }
}
