//! What the log tells: which rows there must be, and in which state.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use super::Findings;
use super::accounts::AccountsStory;
use super::masked::MaskedStory;
use crate::app::clinic::shared;
use crate::app::explain::EXPLAINED;
use crate::app::masked;
use crate::app::withdraw;
use crate::seal::Event;

/// All that the log tells of rows.
#[derive(Default)]
pub(super) struct Story {
    pub(super) made_ms: Option<i64>,
    pub(super) tokens: u64,
    pub(super) missing: u64,
    /// By the assignment's number.
    pub(super) assignments: BTreeMap<u64, AssignmentStory>,
    /// By the round's name.
    pub(super) rounds: BTreeMap<String, RoundStory>,
    /// By the listener's code.
    pub(super) listeners: BTreeMap<String, ListenerStory>,
    /// By the listener's code and the number of the sitting.
    pub(super) sittings: BTreeMap<(String, u64), SittingStory>,
    /// Where listeners went on between two words.
    pub(super) gates: BTreeSet<GateStory>,
    pub(super) accounts: AccountsStory,
    /// By the presentation's name.
    pub(super) places: BTreeMap<String, PlaceStory>,
    /// Listeners who came after the seal, as the log tells of each, by round and number.
    pub(super) invited: BTreeMap<(String, u64), Invited>,
    /// Open links that were made after the seal, by round and number.
    pub(super) open_links: BTreeMap<(String, u64), Value>,
    /// Links that were taken back, by round and number: personal ones, and open ones.
    pub(super) revoked: BTreeMap<(String, u64), i64>,
    pub(super) revoked_open: BTreeMap<(String, u64), i64>,
    /// When a listener withdrew, and the commitment to who it was.
    pub(super) withdrawals: Vec<(i64, String)>,
    /// What staff noted, by the digest of the row.
    pub(super) noted: BTreeMap<String, NotedStory>,
    /// Pages behind a link that were taken back, by the digest of the row.
    pub(super) pages_taken_back: BTreeMap<String, i64>,
    /// When each page behind a link was opened last, by its digest.
    pub(super) pages_opened: BTreeMap<String, i64>,
    /// Masked analyses, by the round's name.
    pub(super) masked: BTreeMap<String, MaskedStory>,
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
    SharedPage,
    MaskedGraph,
    MaskedMark,
}

/// A listener who came after the seal.
pub(super) struct Invited {
    pub(super) told: Value,
    pub(super) at_ms: i64,
    /// The number of the open link by which she came.
    pub(super) open_link: Option<u64>,
}

pub(super) struct AssignmentStory {
    pub(super) seal: String,
    pub(super) drawn_ms: i64,
    /// The commitment to why it was drawn again, or to nothing.
    pub(super) why: String,
}

#[derive(Default)]
pub(super) struct RoundStory {
    pub(super) seal: String,
    /// The commitment to the half of the plan that names children, where it was replaced.
    pub(super) private: Option<String>,
    pub(super) sealed_ms: i64,
    pub(super) closed: Option<(i64, String)>,
    pub(super) unlocked_ms: Option<i64>,
    pub(super) paused: bool,
}

/// What a listener did, each with its time; the first time of a step stands, and its last words.
#[derive(Default)]
pub(super) struct ListenerStory {
    pub(super) opened_ms: Option<i64>,
    /// When, to which version, and as whom where that was asked.
    pub(super) consent: Option<(i64, String, Option<String>)>,
    /// When she answered the questions, and the digest of what she answered.
    pub(super) answers: Option<(i64, String)>,
    /// When each check of her sound came and what she said, by its number.
    pub(super) sound_checks: BTreeMap<u64, (i64, String)>,
    pub(super) instructed_ms: Option<i64>,
    pub(super) finished: Option<Finished>,
    pub(super) let_go: Option<(i64, String)>,
}

pub(super) struct Finished {
    pub(super) seq: u64,
    pub(super) at_ms: i64,
    /// The digest of what she said at the end; earlier programs told the text itself.
    pub(super) said: String,
}

/// Where a listener went on.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct GateStory {
    pub(super) listener: String,
    pub(super) sitting: u64,
    pub(super) place: u64,
    pub(super) kind: String,
    pub(super) passed_ms: i64,
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
    /// How often its sound was cut short.
    pub(super) voided: u32,
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
            "assignment drawn" => {
                let assignment = AssignmentStory {
                    seal: text(&body, "seal")?,
                    drawn_ms: at_ms,
                    why: text(&body, "why")?,
                };
                self.assignments
                    .insert(body.get("assignment")?.as_u64()?, assignment);
            }
            "round sealed" | "round closed" | "round unlocked" | "round paused"
            | "round resumed" | EXPLAINED => self.hear_round(event, &body)?,
            "listeners invited" | "listener enrolled" | "open link made" | "link revoked" => {
                self.hear_link(event, &body)?;
            }
            "listener withdrew" => self.withdrawals.push((at_ms, text(&body, "who")?)),
            "link opened" | "consent" | "answers" | "sound check" | "instructed" | "finished"
            | "let go" => {
                self.hear_listener(event, &body)?;
            }
            "places reserved" => self.hear_reserved(&body, at_ms)?,
            "places given back" => self.hear_moved(&body, "returned")?,
            "places taken up" => self.hear_moved(&body, "reserved")?,
            "places dropped" => self.hear_moved(&body, "dropped")?,
            "went on" => {
                self.gates.insert(GateStory {
                    listener: text(&body, "listener")?,
                    sitting: body.get("number")?.as_u64()?,
                    place: body.get("place")?.as_u64()?,
                    kind: text(&body, "after")?,
                    passed_ms: at_ms,
                });
            }
            "sitting over" => self.hear_over(&body, at_ms)?,
            "judgement" => {
                let place = self.place(&body)?;
                place.state = "judged";
                place
                    .judgements
                    .insert(body.get("revision")?.as_u64()?, text(&body, "row")?);
            }
            "voided" => {
                let place = self.place(&body)?;
                place.state = "dropped";
                place.voided += 1;
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
            shared::SHARED | shared::TAKEN_BACK | shared::OPENED => self.hear_page(event, &body)?,
            "words taken in" | "known answers replaced" => {
                for row in rows(&body)? {
                    self.noted.remove(&row)?;
                }
            }
            masked::BEGUN | masked::MARKED | masked::FINISHED => self.hear_masked(event, &body)?,
            "copy made" => self.copies.push((at_ms, text(&body, "kind")?)),
            withdraw::CHILD_ERASED | withdraw::LISTENER_ERASED => {
                self.erased = Some(text(&body, "gone")?);
                for (round, private) in body.get("plans")?.as_object()? {
                    self.rounds.get_mut(round)?.private = Some(private.as_str()?.to_owned());
                }
            }
            // Kinds that tell of no row, and those of a later program.
            _ => self.accounts.hear(event, &body)?,
        }
        Some(())
    }

    fn hear_round(&mut self, event: &Event, body: &Value) -> Option<()> {
        let at_ms = event.at_utc_ms;
        let name = text(body, "round")?;
        if event.kind == "round sealed" {
            let round = RoundStory {
                seal: text(body, "seal")?,
                sealed_ms: at_ms,
                ..RoundStory::default()
            };
            self.rounds.insert(name, round);
            return Some(());
        }
        let round = self.rounds.get_mut(&name)?;
        match event.kind.as_str() {
            "round closed" => round.closed = Some((at_ms, text(body, "seed")?)),
            "round unlocked" => round.unlocked_ms = Some(at_ms),
            "round paused" => round.paused = true,
            "round resumed" => round.paused = false,
            EXPLAINED => {
                let earlier = body.get("event")?.as_u64()? < event.seq;
                let said = !text(body, "reason")?.is_empty();
                (earlier && said).then_some(())?;
            }
            _ => return None,
        }
        Some(())
    }

    fn hear_page(&mut self, event: &Event, body: &Value) -> Option<()> {
        if event.kind == shared::SHARED {
            return self.hear_noted(event, body, Noted::SharedPage);
        }
        let row = text(body, "row")?;
        self.noted.get(&row)?;
        if event.kind == shared::TAKEN_BACK {
            self.pages_taken_back.insert(row, event.at_utc_ms);
        } else if self.pages_taken_back.contains_key(&row) {
            return None;
        } else {
            self.pages_opened.insert(row, event.at_utc_ms);
        }
        Some(())
    }

    pub(super) fn hear_noted(&mut self, event: &Event, body: &Value, what: Noted) -> Option<()> {
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
            "consent" => {
                listener.consent = Some((at_ms, text(body, "version")?, text(body, "assent")));
            }
            "answers" => listener.answers = Some((at_ms, text(body, "row")?)),
            "sound check" => {
                // Earlier programs kept one check, with the time of the first and what was said last.
                let number = body.get("number").and_then(Value::as_u64);
                let said = body.get("said")?.to_string();
                let check = (listener.sound_checks)
                    .entry(number.unwrap_or(1))
                    .or_insert((at_ms, String::new()));
                check.1 = said;
            }
            "instructed" => listener.instructed_ms = Some(at_ms),
            "let go" => listener.let_go = Some((at_ms, text(body, "why")?)),
            _ => {
                let said = body.get("said").map(Value::to_string);
                listener.finished = Some(Finished {
                    seq: event.seq,
                    at_ms,
                    said: text(body, "row").or(said)?,
                });
            }
        }
        Some(())
    }

    fn hear_link(&mut self, event: &Event, body: &Value) -> Option<()> {
        let (at_ms, round) = (event.at_utc_ms, text(body, "round")?);
        let number = |told: &Value| told.get("number")?.as_u64();
        match event.kind.as_str() {
            "listeners invited" => {
                for told in body.get("listeners")?.as_array()? {
                    let invited = Invited {
                        told: told.clone(),
                        at_ms,
                        open_link: None,
                    };
                    self.invited.insert((round.clone(), number(told)?), invited);
                }
            }
            "listener enrolled" => {
                let told = body.get("enrolled")?;
                let invited = Invited {
                    told: told.clone(),
                    at_ms,
                    open_link: Some(body.get("open_link")?.as_u64()?),
                };
                self.invited.insert((round, number(told)?), invited);
            }
            "open link made" => {
                let told = body.get("open_link")?;
                self.open_links.insert((round, number(told)?), told.clone());
            }
            _ => {
                let open = body.get("open_link").and_then(Value::as_u64);
                let own = body.get("link").and_then(Value::as_u64);
                match (own, open) {
                    (Some(number), _) => self.revoked.insert((round, number), at_ms),
                    (None, number) => self.revoked_open.insert((round, number?), at_ms),
                };
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
                voided: 0,
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
pub(super) fn rows(body: &Value) -> Option<Vec<String>> {
    let rows = body.get("rows")?.as_array()?.iter();
    rows.map(|row| row.as_str().map(str::to_owned)).collect()
}

pub(super) fn text(body: &Value, field: &str) -> Option<String> {
    body.get(field)?.as_str().map(str::to_owned)
}
