//! Sealing a round: the plan is held against the tokens, written down, hashed, and opened.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;
use serde_json::json;

use super::AppError;
use super::Now;
use super::Workspace;
use super::files;
use super::log;
use super::secret;
use crate::blinding;
use crate::blinding::Candidate;
use crate::blinding::ListenerPlan;
use crate::blinding::RoundDesign;
use crate::blinding::Seed;
use crate::blinding::Supply;
use crate::exchange;
use crate::seal;
use crate::seal::Canonical;
use crate::seal::Digest;
use crate::seal::Head;
use crate::seal::Salt;
use crate::store::NewEnrolment;
use crate::store::RoundId;
use crate::store::RoundRow;
use crate::store::TokenId;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::ListenerCode;
use crate::study::Phase;
use crate::study::Plan;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::StudySettings;
use crate::study::Use;
use crate::study::plan::Attempts;

/// The loudest true peak at which a token may be scheduled, in dBTP (design: −1).
const LOUDEST_PEAK_DBTP: f64 = -1.0;

/// A round that was sealed and opened.
#[derive(Debug, Clone)]
pub struct Sealed {
    /// Its name.
    pub round: RoundName,
    /// Its seal, to be deposited elsewhere.
    pub seal: String,
    /// Where the log stood just after, short: a later `verify` can be held against it.
    pub receipt: String,
    /// The listeners' links. Their secrets are kept nowhere.
    pub links: Vec<Link>,
}

/// A listener's personal link.
#[derive(Debug, Clone)]
pub struct Link {
    /// Its number, counted from 1.
    pub number: u32,
    /// The listener's code.
    pub listener: ListenerCode,
    /// The path of the link on the server.
    pub path: String,
}

/// Seals the plan in a file and opens its round.
///
/// # Errors
/// [`AppError::Input`] with all that makes the plan impossible; nothing is sealed then.
pub fn seal_round(workspace: &Workspace, plan: &Path, now: Now) -> Result<Sealed, AppError> {
    let name = plan.display().to_string();
    let plan = exchange::read_plan(&name, &files::read_text(plan)?)?;
    let settings = workspace.settings()?;
    let tokens = workspace
        .store()
        .read(|reading| Ok::<_, AppError>(reading.tokens()?))?;
    let draft = Draft::new(&name, plan, settings, &tokens)?;
    workspace
        .store()
        .write(move |writing| draft.write(writing, now))
}

/// A plan with the tokens that it plays, checked, and everything random about it.
struct Draft {
    plan: Plan,
    settings: StudySettings,
    seed: Seed,
    salt: Salt,
    entries: Vec<Entry>,
    children: BTreeSet<ChildCode>,
}

/// A token in the round to be.
struct Entry {
    id: TokenId,
    number: u32,
    stratum: Option<u32>,
    salt: Salt,
    token: TokenRow,
}

impl Draft {
    fn new(
        name: &str,
        plan: Plan,
        settings: StudySettings,
        tokens: &[TokenRow],
    ) -> Result<Self, Problems> {
        let seed = Seed::new(secret::seed());
        let played = choose(&plan, tokens);
        let strata = strata(&played);
        let mut numbers: Vec<u32> = (1..).take(played.len()).collect();
        seed.sitting(0).shuffle(&mut numbers);
        let entries = played
            .iter()
            .zip(numbers)
            .map(|(token, number)| Entry {
                id: token.id,
                number,
                stratum: stratum_of(token).and_then(|place| strata.get(&place).copied()),
                salt: secret::salt(),
                token: (*token).clone(),
            })
            .collect();
        let children = played
            .iter()
            .filter(|token| token.key.use_.is_scored())
            .filter_map(|token| token.key.child.clone())
            .collect();
        let draft = Self {
            plan,
            settings,
            seed,
            salt: secret::salt(),
            entries,
            children,
        };
        let problems = draft.problems(name);
        problems.or(draft)
    }

    /// All that makes the plan impossible.
    fn problems(&self, name: &str) -> Problems {
        let mut problems = Problems::default();
        let mut say = |what: String, mend: String| problems.push(Problem::new(name, what, mend));
        let phases = &self.settings.phases;
        for phase in [&self.plan.contrast.from, &self.plan.contrast.to]
            .into_iter()
            .chain(&self.plan.tokens.phases)
        {
            if !phases.contains(phase) {
                let known: Vec<_> = phases.iter().map(Phase::as_str).collect();
                say(
                    format!("`{phase}` is no phase of this study"),
                    format!("write one of {}", known.join(", ")),
                );
            }
        }
        for bar in &self.plan.listeners.bars {
            if bar.listener == 0 || bar.listener > self.plan.listeners.invited {
                say(
                    format!("a bar names listener {}", bar.listener),
                    format!(
                        "listeners are numbered 1 to {}",
                        self.plan.listeners.invited
                    ),
                );
            }
            if !self.children.contains(&bar.child) {
                say(
                    "a bar names a child of whom this round plays nothing".to_owned(),
                    "check the child's code".to_owned(),
                );
            }
        }
        let sample = [Use::Example, Use::Practice, Use::WarmUp];
        if !self
            .entries
            .iter()
            .any(|entry| sample.contains(&entry.token.key.use_))
        {
            say(
                "the sound check has no word to play".to_owned(),
                "import at least one word with use example, practice or warm-up".to_owned(),
            );
        }
        for entry in &self.entries {
            let prepared = &entry.token.prepared;
            if prepared.true_peak_dbtp > LOUDEST_PEAK_DBTP {
                let file = entry.token.key.file.as_deref().unwrap_or_default();
                say(
                    format!(
                        "{file} would peak at {:.1} dBTP at the study's level, above {LOUDEST_PEAK_DBTP}",
                        prepared.true_peak_dbtp
                    ),
                    "leave the word out, or begin a study at a lower `level_lufs`".to_owned(),
                );
            }
        }
        for refusal in self.refusals() {
            problems.push(Problem::new(name, "the plan cannot be met", refusal));
        }
        problems
    }

    /// What the blinding says of the plan's numbers.
    fn refusals(&self) -> Vec<String> {
        let tokens = self.candidates();
        let child_number: BTreeMap<_, u32> = self.children.iter().zip(0..).collect();
        let sitting = &self.plan.sitting;
        let listeners: Vec<_> = (1..=self.plan.listeners.invited)
            .map(|number| ListenerPlan {
                sittings: self.plan.listeners.sittings,
                barred: self
                    .plan
                    .listeners
                    .bars
                    .iter()
                    .filter(|bar| bar.listener == number)
                    .filter_map(|bar| child_number.get(&bar.child).copied())
                    .collect(),
            })
            .collect();
        let supply = |places: u32, use_: Use| Supply {
            places: size(places),
            tokens: self
                .entries
                .iter()
                .filter(|entry| entry.token.key.use_ == use_)
                .count(),
        };
        let places = size(sitting.tokens).min(tokens.len());
        blinding::feasible(&RoundDesign {
            tokens: &tokens,
            planned: self.plan.listeners.judgements_per_token,
            places,
            repeats: self.plan.repeats_among(places),
            repeat_distance: size(sitting.repeat_distance),
            checks: supply(sitting.checks, Use::Check),
            warm_ups: supply(sitting.warm_up, Use::WarmUp),
            practice: supply(sitting.practice, Use::Practice),
            listeners: &listeners,
        })
        .iter()
        .map(ToString::to_string)
        .collect()
    }

    fn candidates(&self) -> Vec<Candidate> {
        let child_number: BTreeMap<_, u32> = self.children.iter().zip(0..).collect();
        self.entries
            .iter()
            .filter_map(|entry| {
                let child = entry.token.key.child.as_ref()?;
                Some(Candidate {
                    token: entry.number,
                    stratum: entry.stratum?,
                    phase: 0,
                    child: child_number.get(child).copied()?,
                    word: 0,
                    committed: 0,
                    may_hear: true,
                })
            })
            .collect()
    }

    fn write(self, writing: &Writing<'_>, now: Now) -> Result<Sealed, AppError> {
        if writing.round_named(&self.plan.round)?.is_some() {
            return Err(AppError::refused(
                format!("a round `{}` was sealed before", self.plan.round),
                "give this one another name: a seal is never replaced",
            ));
        }
        let listeners: Vec<_> = (1..=self.plan.listeners.invited)
            .map(|number| self.invite(number))
            .collect::<Result<_, _>>()?;
        let earlier: Vec<_> = writing
            .rounds()?
            .into_iter()
            .map(|round| round.seal)
            .collect();
        let document = self.document(&listeners, &earlier, writing.head()?)?;
        let seal = seal::seal_of(&document);
        let round = writing.add_round(&RoundRow {
            id: RoundId::default(),
            name: self.plan.round.clone(),
            state: RoundState::Open,
            plan: log::canonical(&as_json(&self.plan)?)?.to_string(),
            document: document.to_string(),
            seal: seal.to_string(),
            seed: *self.seed.as_bytes(),
            salt: self.salt,
            opened_ms: Some(now.ms()),
            closed_ms: None,
            unlocked_ms: None,
        })?;
        for entry in &self.entries {
            let use_ = entry.token.key.use_;
            writing.add_round_token(
                round,
                entry.id,
                entry.number,
                use_,
                entry.stratum,
                &entry.salt,
            )?;
        }
        let children: BTreeMap<_, _> = writing
            .children()?
            .into_iter()
            .map(|child| (child.code, child.id))
            .collect();
        let mut links = Vec::with_capacity(listeners.len());
        for (new, secret) in listeners {
            let (_, listener) = writing.add_enrolment(round, &new)?;
            for bar in self
                .plan
                .listeners
                .bars
                .iter()
                .filter(|bar| bar.listener == new.number)
            {
                if let Some(child) = children.get(&bar.child) {
                    writing.bar(listener, *child, "barred", now.ms())?;
                }
            }
            let path = format!("/l/{secret}");
            links.push(Link {
                number: new.number,
                listener: new.code,
                path,
            });
        }
        let body = json!({"round": self.plan.round.as_str(), "seal": seal.to_string()});
        let head = log::append(writing, now, "round sealed", &body)?;
        Ok(Sealed {
            round: self.plan.round,
            seal: seal.to_string(),
            receipt: head.receipt().to_string(),
            links,
        })
    }

    fn invite(&self, number: u32) -> Result<(NewEnrolment, String), AppError> {
        let secret = secret::token();
        let code = ListenerCode::new(&secret::listener_code()).map_err(AppError::Refused)?;
        let new = NewEnrolment {
            code,
            kind: self.plan.listeners.kind,
            number,
            side: blinding::answer_side(u64::from(number), &self.seed),
            link_sha256: secret::digest_of(&secret),
        };
        Ok((new, secret))
    }

    /// What is sealed. Whatever could identify a child stands in it as a salted commitment.
    fn document(
        &self,
        listeners: &[(NewEnrolment, String)],
        earlier: &[String],
        head: Head,
    ) -> Result<Canonical, AppError> {
        let mut tokens = Vec::with_capacity(self.entries.len());
        let mut by_number: Vec<_> = self.entries.iter().collect();
        by_number.sort_by_key(|entry| entry.number);
        for entry in by_number {
            let commitment = token_commitment(&entry.salt, &entry.token, entry.stratum)?;
            tokens.push(json!({
                "number": entry.number,
                "use": entry.token.key.use_,
                "commitment": commitment,
            }));
        }
        let (public, private) = split_plan(&self.plan)?;
        let listeners: Vec<_> = listeners
            .iter()
            .map(|(new, _)| {
                json!({"number": new.number, "listener": new.code, "kind": new.kind, "side": new.side})
            })
            .collect();
        log::canonical(&json!({
            "format": "fairhearing round 1",
            "program": env!("CARGO_PKG_VERSION"),
            "study": as_json(&self.settings)?,
            "plan": public,
            "children": seal::commit(&self.salt, &log::canonical(&private)?),
            "seed_sha256": Digest::of(self.seed.as_bytes()),
            "tokens": tokens,
            "listeners": listeners,
            "earlier_rounds": earlier,
            "log": {"count": head.count, "head": head.digest},
        }))
    }
}

/// The commitment to one token: where it comes from, its audio, its stratum.
pub(super) fn token_commitment(
    salt: &Salt,
    token: &TokenRow,
    stratum: Option<u32>,
) -> Result<Digest, AppError> {
    let value = json!({
        "key": as_json(&token.key)?,
        "original_sha256": token.original_sha256,
        "samples_sha256": token.samples_sha256,
        "audio_sha256": token.prepared.sha256,
        "onset_ms": token.prepared.onset_ms,
        "level_lufs": token.prepared.level_lufs,
        "stratum": stratum,
    });
    Ok(seal::commit(salt, &log::canonical(&value)?))
}

/// The plan in two: what the document shows, and what it only commits to (it names children).
pub(super) fn split_plan(plan: &Plan) -> Result<(Value, Value), AppError> {
    let mut public = as_json(plan)?;
    let mut private = serde_json::Map::new();
    for (section, field) in [("tokens", "children"), ("listeners", "bars")] {
        let taken = public
            .get_mut(section)
            .and_then(Value::as_object_mut)
            .and_then(|section| section.remove(field));
        private.insert(field.to_owned(), taken.unwrap_or(Value::Null));
    }
    Ok((public, Value::Object(private)))
}

pub(super) fn as_json<T: serde::Serialize>(value: &T) -> Result<Value, AppError> {
    serde_json::to_value(value).map_err(|error| AppError::Unreadable(error.to_string()))
}

/// The tokens that the plan plays: the scored ones that it chooses, and all that are there to
/// prepare and to watch the listener.
fn choose<'t>(plan: &Plan, tokens: &'t [TokenRow]) -> Vec<&'t TokenRow> {
    let choice = &plan.tokens;
    let chosen: Vec<_> = tokens
        .iter()
        .filter(|token| token.excluded.is_none())
        .filter(|token| {
            let key = &token.key;
            let child = choice.children.is_empty()
                || key
                    .child
                    .as_ref()
                    .is_some_and(|child| choice.children.contains(child));
            let phase = choice.phases.is_empty()
                || key
                    .phase
                    .as_ref()
                    .is_some_and(|phase| choice.phases.contains(phase));
            !key.use_.is_scored() || (child && phase)
        })
        .collect();
    let mut attempts: BTreeMap<_, Vec<u32>> = BTreeMap::new();
    for token in chosen.iter().filter(|token| token.key.use_.is_scored()) {
        attempts
            .entry(word_of(token))
            .or_default()
            .push(token.key.attempt);
    }
    chosen
        .into_iter()
        .filter(|token| {
            let tries = attempts
                .get(&word_of(token))
                .filter(|_| token.key.use_.is_scored());
            match (choice.attempts, tries) {
                (Attempts::First, Some(tries)) => tries.iter().min() == Some(&token.key.attempt),
                (Attempts::Last, Some(tries)) => tries.iter().max() == Some(&token.key.attempt),
                _ => true,
            }
        })
        .collect()
}

fn word_of(token: &TokenRow) -> (Option<ChildCode>, Option<u32>, String) {
    (
        token.key.child.clone(),
        token.key.session,
        token.key.word.text(),
    )
}

fn stratum_of(token: &TokenRow) -> Option<(ChildCode, u32)> {
    let key = &token.key;
    key.use_
        .is_scored()
        .then(|| Some((key.child.clone()?, key.session?)))
        .flatten()
}

/// One bare number for each child in each session.
fn strata(tokens: &[&TokenRow]) -> BTreeMap<(ChildCode, u32), u32> {
    let places: BTreeSet<_> = tokens
        .iter()
        .filter_map(|token| stratum_of(token))
        .collect();
    places.into_iter().zip(0..).collect()
}

fn size(count: u32) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}
