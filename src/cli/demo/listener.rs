//! A simulated listener's sitting, through the same addresses as everybody's.

use serde_json::Value;
use serde_json::json;

use super::browser::Browser;
use crate::app::AppError;
use crate::app::demo::SimulatedListener;

/// What a simulated listener says of her sound.
const SOUND_CHECK: [(&str, &str); 5] = [
    ("device", "wired-headphones"),
    ("heard", "yes"),
    ("first_right", "3"),
    ("first_of", "3"),
    ("first_tries", "1"),
];

/// Opens her link, goes through every step, judges every word, and finishes. Says how many words
/// she judged.
pub(super) fn sit(
    server: &str,
    link: &str,
    consent_version: &str,
    mut listener: SimulatedListener<'_>,
) -> Result<usize, AppError> {
    let mut browser = Browser::new(server);
    browser.open(link)?;
    browser.submit(
        "/listen/consent",
        &[("version", consent_version), ("agreed", "yes")],
    )?;
    let answers = listener.of_herself();
    let answers: Vec<_> = answers.iter().map(|(name, said)| (*name, *said)).collect();
    browser.submit("/listen/questions", &answers)?;
    browser.submit("/listen/sound-check", &SOUND_CHECK)?;
    browser.submit("/listen/begin", &[])?;
    let mut judged = 0;
    loop {
        let Some(id) = next_word(&browser)? else {
            // A rest, or practice once more, or the end.
            browser.submit("/listen/go-on", &[])?;
            match next_word(&browser)? {
                Some(_) => continue,
                None => break,
            }
        };
        let sound = browser.bytes(&format!("/listen/sound/{id}"))?;
        let (answer, rt_ms) = listener.judge(&sound);
        let said = json!({
            "answer": answer,
            "revision": 1,
            "rt_ms": rt_ms,
            "rt_grain_ms": 1,
            "replays": 0,
        });
        browser.put(&format!("/listen/judgement/{id}"), &said)?;
        judged += 1;
    }
    if judged > 0 {
        browser.submit("/listen/closing", &[("told_early_from_late", "no")])?;
    }
    Ok(judged)
}

/// The name of the word to judge now.
fn next_word(browser: &Browser) -> Result<Option<String>, AppError> {
    let ahead: Vec<Value> = browser.json("/listen/ahead")?;
    let id = ahead.first().and_then(|word| word.get("id"));
    Ok(id.and_then(Value::as_str).map(str::to_owned))
}
