//! The pages around the words in a real browser: the checks of the sound hear what they play, and
//! the whole way is gone by keyboard.

use serde_json::Value;
use serde_json::json;

use crate::support::Browser;
use crate::support::Server;
use crate::support::Study;
use crate::support::key;

const COURSE: &str = "
[practice]
pass = 0.0
[rests]
every = 4
[sound_check]
first_sound = \"require\"
headphones = \"require\"
[questions]
ask = [\"age\", \"hearing\"]
";

/// Notes every buffer that is played: its channels as lists of the root mean square of each tenth
/// of a second.
const WATCH: &str = "window.played = [];
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (...args) {
      if (!this.loop) {
        const { buffer } = this;
        const step = buffer.sampleRate / 10;
        const channels = [...Array(buffer.numberOfChannels).keys()].map((c) => buffer.getChannelData(c));
        const rms = (samples) => Math.sqrt(samples.reduce((sum, x) => sum + x * x, 0) / samples.length);
        const tenths = (samples) => Array.from({ length: Math.floor(samples.length / step) }, (_, at) => rms(samples.slice(at * step, (at + 1) * step)));
        const sum = channels[0].map((x, at) => channels.reduce((all, c) => all + c[at], 0) / channels.length);
        window.played.push({ seconds: buffer.duration, left: tenths(channels[0]), mono: tenths(sum) });
      }
      return start.apply(this, args);
    };";

/// The loudest that a prepared word is on average, -27 LUFS, as a root mean square (a full-scale
/// sine of 1 kHz reads -3 LUFS, ITU-R BS.1770; for low tones the meter reads still less).
const WORDS_RMS: f64 = 0.0447;

#[tokio::test]
async fn both_checks_of_the_sound_are_told_by_who_hears_and_by_nobody_else() {
    let study = Study::with().words(1).course(COURSE.to_owned()).sealed();
    let server = Server::start(&study.folder());
    let browser = at_the_sound_check(&study, &server).await;
    browser.js(WATCH).await;
    for number in 1..=3 {
        browser.play_in_check("first").await;
        let played = last_played(&browser).await;
        // 300 ms of silence, then the hiss or the tone at once: a hiss makes the sound longer.
        let hiss = played["seconds"].as_f64().unwrap() > 0.8;
        let levels = numbers(&played["left"]);
        assert!(levels[..3].iter().all(|level| *level == 0.0), "{levels:?}");
        assert!(levels.iter().all(|level| *level < WORDS_RMS), "{levels:?}");
        assert!(
            levels[3] > 0.005,
            "sound {number} begins where it is said to"
        );
        tell(&browser, "first", usize::from(hiss)).await;
    }
    assert_eq!(good(&browser, "first").await, json!(true));
    for _ in 0..6 {
        browser.play_in_check("headphones").await;
        let played = last_played(&browser).await;
        let (left, mono) = (numbers(&played["left"]), numbers(&played["mono"]));
        // The middle of each tone of a second, half a second apart, after 300 ms.
        let at = |levels: &[f64], tone: usize| levels[3 + 15 * tone + 5];
        let tones = [0, 1, 2].map(|tone| at(&left, tone));
        let softest = (0..3)
            .min_by(|a, b| tones[*a].total_cmp(&tones[*b]))
            .unwrap();
        let loudest = tones.iter().copied().fold(0.0, f64::max);
        // 6 dB: half of the pressure.
        assert!((tones[softest] / loudest - 0.5).abs() < 0.01, "{tones:?}");
        assert!(loudest < WORDS_RMS, "{tones:?}");
        let in_the_air = [0, 1, 2].map(|tone| at(&mono, tone));
        let vanishes = in_the_air.iter().filter(|level| **level < 1e-6).count();
        assert_eq!(vanishes, 1, "one tone is lost where both ears get the sum");
        assert!(in_the_air[softest] > 1e-6, "and it is not the softest");
        tell(&browser, "headphones", softest).await;
    }
    assert_eq!(good(&browser, "headphones").await, json!(true));
    send(&browser).await;
    browser
        .until("return document.querySelector('[action^=\"/listen/begin\"]') !== null")
        .await;
    browser.close().await;
    let said = sound_check(&study);
    assert!(
        said.contains(r#""first_sound":{"of":3,"right":3,"tries":1}"#),
        "{said}"
    );
    assert!(
        said.contains(r#""headphones":{"of":6,"right":6,"tries":1}"#),
        "{said}"
    );
}

#[tokio::test]
async fn who_cannot_hear_beginnings_may_try_again_and_is_thanked() {
    let study = Study::with()
        .words(1)
        .course(COURSE.replace("headphones = \"require\"", ""))
        .sealed();
    let server = Server::start(&study.folder());
    let browser = at_the_sound_check(&study, &server).await;
    browser.js(WATCH).await;
    send(&browser).await;
    assert_eq!(
        browser
            .js("return document.activeElement.matches('[data-check=first] [data-play]')")
            .await,
        json!(true),
        "what is missing gets the focus"
    );
    // To her each sound is only the tone.
    browser.do_check("first", &[0, 0, 0]).await;
    assert_eq!(good(&browser, "first").await, json!(false));
    browser.click("[data-check=first] [data-again]").await;
    browser.do_check("first", &[0, 0, 0]).await;
    assert_eq!(good(&browser, "first").await, json!(false));
    send(&browser).await;
    browser
        .until("return document.querySelector('h1').textContent === 'Thank you for trying'")
        .await;
    browser.close().await;
    assert!(sound_check(&study).contains("\"tries\":2"));
}

#[tokio::test]
async fn who_listens_with_loudspeakers_is_not_asked_to_check_headphones() {
    let course = COURSE
        .replace("first_sound = \"require\"", "first_sound = \"off\"")
        .replace("headphones = \"require\"", "headphones = \"record\"");
    let study = Study::with().words(1).course(course).sealed();
    let server = Server::start(&study.folder());
    let browser = at_the_sound_check(&study, &server).await;
    let asked = "return document.querySelector('[data-check=headphones]').checkVisibility()";
    assert_eq!(browser.js(asked).await, json!(true));
    browser.click("[name=device][value=built-in]").await;
    assert_eq!(browser.js(asked).await, json!(false));
    send(&browser).await;
    browser
        .until("return document.querySelector('[action^=\"/listen/begin\"]') !== null")
        .await;
    browser.close().await;
    let said = sound_check(&study);
    assert!(said.contains("built-in"), "{said}");
    assert!(!said.contains("\"headphones\":"), "{said}");
}

#[tokio::test]
async fn where_listeners_were_divided_practice_says_that_either_answer_is_fair() {
    let study = Study::with()
        .words(1)
        .practice_answers(&["divided"])
        .sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    browser
        .begin_by_keyboard(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    assert!(browser.hear().await);
    browser.press(key::LEFT).await;
    browser.until_said("feedback_divided").await;
    let said = browser
        .js("return document.getElementById('said').innerText.trim()")
        .await;
    assert_eq!(
        said,
        json!("Listeners were divided on this one. Either answer is fair.")
    );
    assert!(browser.hear().await, "the sitting goes on");
    browser.close().await;
}

#[tokio::test]
async fn questions_and_rests_are_gone_through_by_keyboard() {
    let study = Study::with()
        .words(2)
        .practice(0)
        .course(COURSE.replace("require", "off"))
        .sealed();
    let server = Server::start(&study.folder());
    let browser = Browser::open().await;
    browser
        .go(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    browser.tab_to("[name=agreed]").await;
    browser.press(key::SPACE).await;
    browser.tab_to("form button").await;
    browser.press(key::ENTER).await;
    browser
        .until("return document.querySelector('.questions') !== null")
        .await;
    for question in ["age", "hearing"] {
        browser.tab_to(&format!("[name={question}]")).await;
        browser.press(key::SPACE).await;
    }
    browser.tab_to("form .button").await;
    browser.press(key::ENTER).await;
    browser.check_sound_by_keyboard().await;
    let mut rests = 0;
    loop {
        while browser.hear().await {
            browser.press(key::LEFT).await;
            browser.all_saved().await;
        }
        let rest = "return document.querySelector('[action^=\"/listen/go-on\"]') !== null";
        if browser.js(rest).await != json!(true) {
            break;
        }
        rests += 1;
        browser.tab_to("form .button").await;
        browser.press(key::ENTER).await;
        browser
            .until("return document.getElementById('sitting') !== null")
            .await;
    }
    browser.close().await;
    // Eight scored words, one of them again, two checks, one to warm up: twelve.
    assert_eq!(rests, 2);
    assert_eq!(study.judgements().len(), 12);
}

/// A browser at the sound check, the sample heard and both questions answered.
async fn at_the_sound_check(study: &Study, server: &Server) -> Browser {
    let browser = Browser::open().await;
    browser
        .go(&format!("{}{}", server.address, study.links()[0].path))
        .await;
    browser.click("[name=agreed]").await;
    browser.click("form button").await;
    browser
        .until("return document.querySelector('.questions') !== null")
        .await;
    for question in ["age", "hearing"] {
        browser.click(&format!("[name={question}]")).await;
    }
    browser.click("form .button").await;
    browser
        .until("return document.getElementById('play') !== null")
        .await;
    browser
        .hear_the_loudest(async || browser.click("#play").await)
        .await;
    browser.click("[name=device]").await;
    browser.click("[name=heard]").await;
    browser
}

async fn tell(browser: &Browser, check: &str, answer: usize) {
    browser
        .click(&format!("[data-check={check}] [data-say-of=\"{answer}\"]"))
        .await;
}

/// Whether a check says that it came out well; else it offers another try.
async fn good(browser: &Browser, check: &str) -> Value {
    let shown = |part: &str| {
        format!("!document.querySelector('[data-check={check}] [data-{part}]').hidden")
    };
    let script = format!(
        "const [good, bad, again] = [{}, {}, {}];
         if (good === bad || bad !== again) throw new Error('both or none');
         return good;",
        shown("good"),
        shown("bad"),
        shown("again")
    );
    browser.js(&script).await
}

async fn send(browser: &Browser) {
    browser.click("form button:not([type=button])").await;
}

async fn last_played(browser: &Browser) -> Value {
    browser.js("return window.played.at(-1)").await
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap().iter();
    list.map(|number| number.as_f64().unwrap()).collect()
}

fn sound_check(study: &Study) -> String {
    let said = study
        .store()
        .read(|reading| reading.sound_checks(reading.rounds()?[0].id))
        .unwrap();
    said[0].said.clone()
}
