//! What the log tells: which rows there must be, and in which state.

use std::collections::BTreeMap;

use serde_json::Value;

use super::Findings;
use crate::app::withdraw;
use crate::seal::Event;

/// All that the log tells of rows.
#[derive(Default)]
pub(super) struct Story {
    pub(super) made_ms: Option<i64>,
    pub(super) tokens: u64,
    pub(super) missing: u64,
    /// By the round's name.
    pub(super) rounds: BTreeMap<String, RoundStory>,
    /// By the listener's code.
    pub(super) listeners: BTreeMap<String, ListenerStory>,
    /// By the listener's code and the number of the sitting.
    pub(super) sittings: BTreeMap<(String, u64), SittingStory>,
    /// By the presentation's name.
    pub(super) places: BTreeMap<String, PlaceStory>,
    /// What staff noted, by the digest of the row.
    pub(super) noted: BTreeMap<String, NotedStory>,
    /// Copies that left the store: when, and of which kind.
    pub(super) copies: Vec<(i64, String)>,
    /// The digest of all that was ever erased.
    pub(super) erased: Option<String>,
}

/// A row that staff noted: what it is, when, and by which event.
#[derive(Clone, Copy)]
pub(super) struct NotedStory {
    pub(super) what: Noted,
    pub(super) at_ms: i64,
    pub(super) seq: u64,
}

/// A kind of row that staff's acts write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Noted {
    Consent,
    Exclusion,
    KnownAnswer,
    SingleJudge,
    ChildOutOfUse,
}

#[derive(Default)]
pub(super) struct RoundStory {
    pub(super) seal: String,
    /// The commitment to the half of the plan that names children, where it was replaced.
    pub(super) private: Option<String>,
    pub(super) sealed_ms: i64,
    pub(super) closed: Option<(i64, String)>,
    pub(super) unlocked_ms: Option<i64>,
}

/// What a listener did, each with its time; the first time of a step stands, and its last words.
#[derive(Default)]
pub(super) struct ListenerStory {
    pub(super) opened_ms: Option<i64>,
    pub(super) consent: Option<(i64, String)>,
    pub(super) sound_check: Option<(i64, String)>,
    pub(super) instructed_ms: Option<i64>,
    pub(super) finished: Option<Finished>,
}

pub(super) struct Finished {
    pub(super) seq: u64,
    pub(super) at_ms: i64,
    pub(super) said: String,
}

pub(super) struct SittingStory {
    pub(super) stream: u64,
    pub(super) begun_ms: i64,
    pub(super) ended: Option<(i64, String)>,
}

pub(super) struct PlaceStory {
    pub(super) listener: String,
    pub(super) sitting: u64,
    pub(super) digest: String,
    pub(super) state: &'static str,
    /// Why it was set aside, and when.
    pub(super) aside: Option<(String, i64)>,
    /// The digest of each revision.
    pub(super) judgements: BTreeMap<u64, String>,
}

impl Story {
    /// Follows the events in their order.
    pub(super) fn told(log: &[(Event, String)], findings: &mut Findings) -> Self {
        let mut story = Self::default();
        for (event, _) in log {
            if story.hear(event).is_none() {
                findings.say(format!(
                    "event {} of the log (`{}`) tells what the program cannot have written",
                    event.seq, event.kind
                ));
            }
        }
        story
    }

    fn hear(&mut self, event: &Event) -> Option<()> {
        let body: Value = serde_json::from_str(event.body.as_str()).ok()?;
        let at_ms = event.at_utc_ms;
        match event.kind.as_str() {
            "study made" => self.made_ms = Some(at_ms),
            "import" => {
                self.tokens += body.get("tokens")?.as_u64()?;
                self.missing += body.get("missing")?.as_u64()?;
            }
            "round sealed" => {
                let round = RoundStory {
                    seal: text(&body, "seal")?,
                    sealed_ms: at_ms,
                    ..RoundStory::default()
                };
                self.rounds.insert(text(&body, "round")?, round);
            }
            "round closed" => {
                let seed = text(&body, "seed")?;
                self.rounds.get_mut(&text(&body, "round")?)?.closed = Some((at_ms, seed));
            }
            "round unlocked" => {
                self.rounds.get_mut(&text(&body, "round")?)?.unlocked_ms = Some(at_ms);
            }
            "link opened" | "consent" | "sound check" | "instructed" | "finished" => {
                self.hear_listener(event, &body)?;
            }
            "places reserved" => self.hear_reserved(&body, at_ms)?,
            "places given back" => self.hear_moved(&body, "returned")?,
            "places taken up" => self.hear_moved(&body, "reserved")?,
            "places dropped" => self.hear_moved(&body, "dropped")?,
            "sitting over" => self.hear_over(&body, at_ms)?,
            "judgement" => {
                let place = self.place(&body)?;
                place.state = "judged";
                place
                    .judgements
                    .insert(body.get("revision")?.as_u64()?, text(&body, "row")?);
            }
            "set aside" => {
                let place = self.place(&body)?;
                place.state = "aside";
                place.aside = Some((text(&body, "reason")?, at_ms));
            }
            "consents noted" => self.hear_noted(event, &body, Noted::Consent)?,
            "words excluded" => self.hear_noted(event, &body, Noted::Exclusion)?,
            "known answers" => self.hear_noted(event, &body, Noted::KnownAnswer)?,
            "single judge" => self.hear_noted(event, &body, Noted::SingleJudge)?,
            withdraw::CHILD_STOPPED => self.hear_noted(event, &body, Noted::ChildOutOfUse)?,
            "words taken in" | "known answers replaced" => {
                for row in rows(&body)? {
                    self.noted.remove(&row)?;
                }
            }
            "copy made" => self.copies.push((at_ms, text(&body, "kind")?)),
            withdraw::CHILD_ERASED | withdraw::LISTENER_ERASED => {
                self.erased = Some(text(&body, "gone")?);
                for (round, private) in body.get("plans")?.as_object()? {
                    self.rounds.get_mut(round)?.private = Some(private.as_str()?.to_owned());
                }
            }
            // Kinds that tell of no row, and those of a later program.
            _ => {}
        }
        Some(())
    }

    fn hear_noted(&mut self, event: &Event, body: &Value, what: Noted) -> Option<()> {
        let told = NotedStory {
            what,
            at_ms: event.at_utc_ms,
            seq: event.seq,
        };
        for row in rows(body)? {
            self.noted.insert(row, told);
        }
        Some(())
    }

    fn hear_listener(&mut self, event: &Event, body: &Value) -> Option<()> {
        let at_ms = event.at_utc_ms;
        let listener = self.listeners.entry(text(body, "listener")?).or_default();
        match event.kind.as_str() {
            "link opened" => listener.opened_ms = Some(at_ms),
            "consent" => listener.consent = Some((at_ms, text(body, "version")?)),
            "sound check" => {
                let first_ms = listener.sound_check.as_ref().map_or(at_ms, |(ms, _)| *ms);
                listener.sound_check = Some((first_ms, body.get("said")?.to_string()));
            }
            "instructed" => listener.instructed_ms = Some(at_ms),
            _ => {
                listener.finished = Some(Finished {
                    seq: event.seq,
                    at_ms,
                    said: body.get("said")?.to_string(),
                });
            }
        }
        Some(())
    }

    fn hear_reserved(&mut self, body: &Value, at_ms: i64) -> Option<()> {
        let listener = text(body, "listener")?;
        let number = body.get("number")?.as_u64()?;
        let stream = body.get("sitting")?.as_u64()?;
        self.sittings
            .entry((listener.clone(), number))
            .or_insert(SittingStory {
                stream,
                begun_ms: at_ms,
                ended: None,
            });
        for place in body.get("places")?.as_array()? {
            let new = PlaceStory {
                listener: listener.clone(),
                sitting: number,
                digest: text(place, "row")?,
                state: "reserved",
                aside: None,
                judgements: BTreeMap::new(),
            };
            self.places.insert(text(place, "presentation")?, new);
        }
        Some(())
    }

    fn hear_moved(&mut self, body: &Value, state: &'static str) -> Option<()> {
        for id in body.get("places")?.as_array()? {
            self.places.get_mut(id.as_str()?)?.state = state;
        }
        Some(())
    }

    fn hear_over(&mut self, body: &Value, at_ms: i64) -> Option<()> {
        let listener = text(body, "listener")?;
        let stream = body.get("sitting")?.as_u64()?;
        let why = text(body, "why")?;
        let (_, sitting) = self
            .sittings
            .iter_mut()
            .find(|((code, _), sitting)| *code == listener && sitting.stream == stream)?;
        sitting.ended = Some((at_ms, why));
        Some(())
    }

    fn place(&mut self, body: &Value) -> Option<&mut PlaceStory> {
        self.places.get_mut(body.get("presentation")?.as_str()?)
    }
}

/// The digests of rows that an event tells of.
fn rows(body: &Value) -> Option<Vec<String>> {
    let rows = body.get("rows")?.as_array()?.iter();
    rows.map(|row| row.as_str().map(str::to_owned)).collect()
}

fn text(body: &Value, field: &str) -> Option<String> {
    body.get(field)?.as_str().map(str::to_owned)
}
