//! Masked analyses: who began and finished each, and that no mark came before its beginning or after its end.

use serde_json::Value;

use super::Findings;
use super::story::Noted;
use super::story::Story;
use super::story::rows;
use super::story::text;
use crate::app::masked;
use crate::seal::Digest;
use crate::seal::Event;
use crate::store::Reading;

/// What the log tells of one masked analysis.
pub(super) struct MaskedStory {
    analyst: String,
    seed_sha256: String,
    begun_ms: i64,
    finished_ms: Option<i64>,
}

impl Story {
    /// Follows an event of a masked analysis.
    pub(super) fn hear_masked(&mut self, event: &Event, body: &Value) -> Option<()> {
        let round = text(body, "round")?;
        let told = self.rounds.get(&round)?;
        if told.closed.is_none() || told.unlocked_ms.is_some() {
            return None;
        }
        if event.kind == masked::BEGUN {
            let analysis = MaskedStory {
                analyst: text(body, "analyst")?,
                seed_sha256: text(body, "seed_sha256")?,
                begun_ms: event.at_utc_ms,
                finished_ms: None,
            };
            let before = self.masked.insert(round, analysis);
            return before
                .is_none()
                .then(|| self.hear_noted(event, body, Noted::MaskedGraph))?;
        }
        let analysis = self.masked.get_mut(&round)?;
        if analysis.finished_ms.is_some() {
            return None;
        }
        if event.kind == masked::FINISHED {
            analysis.finished_ms = Some(event.at_utc_ms);
            let marks = body.get("marks")?.as_array()?.iter();
            let known = |digest: &str| {
                self.noted
                    .get(digest)
                    .is_some_and(|told| told.what == Noted::MaskedMark)
            };
            return marks
                .map(|digest| digest.as_str().filter(|digest| known(digest)).map(|_| ()))
                .collect();
        }
        for digest in rows_named(body, "replaced")? {
            self.noted.remove(&digest)?;
        }
        self.hear_noted(event, body, Noted::MaskedMark)
    }
}

fn rows_named(body: &Value, field: &str) -> Option<Vec<String>> {
    rows(&serde_json::json!({"rows": body.get(field)?}))
}

/// Holds the analyses against the log; their graphs and marks are held against it with all else that was noted.
pub(super) fn check(reading: &Reading<'_>, story: &Story, findings: &mut Findings) {
    let found = findings.read(reading.masked_analyses());
    for row in &found {
        let fits = story.masked.get(row.round.as_str()).is_some_and(|told| {
            told.analyst == row.analyst
                && told.seed_sha256 == Digest::of(&row.seed).to_string()
                && told.begun_ms == row.begun_ms
                && told.finished_ms == row.finished_ms
        });
        if !fits {
            findings.say(format!(
                "the masked analysis of round {} is not as the log tells it",
                row.round
            ));
        }
    }
    for name in story.masked.keys() {
        if found.iter().all(|row| row.round.as_str() != name) {
            findings.say(format!(
                "the masked analysis of round {name} was begun, and is gone"
            ));
        }
    }
}
