//! A simulated listener's sitting, through the same addresses as everybody's.

use serde_json::Value;
use serde_json::json;

use super::browser::Browser;
use crate::app::AppError;
use crate::app::demo::SimulatedListener;

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
    let check = [("device", "wired-headphones"), ("heard", "yes")];
    browser.submit("/listen/sound-check", &check)?;
    browser.submit("/listen/begin", &[])?;
    let mut judged = 0;
    loop {
        let ahead: Vec<Value> = browser.json("/listen/ahead")?;
        let Some(id) = ahead
            .first()
            .and_then(|word| word.get("id"))
            .and_then(Value::as_str)
        else {
            break;
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
        browser.submit("/listen/closing", &[])?;
    }
    Ok(judged)
}
