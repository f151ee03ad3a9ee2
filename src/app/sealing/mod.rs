//! Sealing a round: the plan is held against the tokens, written down, hashed, and opened.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use serde_json::json;

mod checks;
mod choice;
// What is sealed.
pub(super) mod document;
mod notices;
mod preview;
mod sample;
mod sheet;
mod speakers;

pub(super) use preview::preview;
pub use sheet::SealSheet;
pub use sheet::seal_sheet;

use super::AppError;
use super::Now;
use super::Workspace;
use super::answers;
use super::answers::KnownWord;
use super::answers::Standing;
use super::consent;
use super::files;
use super::links;
use super::links::Link;
use super::links::NewListener;
use super::links::OpenLink;
use super::log;
use super::secret;
use crate::blinding::Seed;
use crate::exchange;
use crate::seal;
use crate::seal::Salt;
use crate::store::NewEnrolment;
use crate::store::NewOpenLink;
use crate::store::NewRoundToken;
use crate::store::Reading;
use crate::store::RoundId;
use crate::store::RoundRow;
use crate::store::TokenId;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::Consent;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::StudySettings;
use crate::study::record::KnownAnswers;

use choice::Earlier;

/// A round that was sealed and opened.
#[derive(Debug, Clone)]
pub struct Sealed {
    /// Its name.
    pub round: RoundName,
    /// Its seal, to be deposited elsewhere.
    pub seal: String,
    /// Where the log stood just after, short: a later `verify` can be held against it.
    pub receipt: String,
    /// The version of the consent that listeners agree to.
    pub consent_version: String,
    /// The listeners' links. Their secrets are kept nowhere.
    pub links: Vec<Link>,
    /// The open link, if the plan has one.
    pub open_link: Option<OpenLink>,
    /// How many check and practice words two people answered, and how many one person alone.
    pub known_answers: KnownAnswers,
    /// What staff should see to, for the desk alone.
    pub notices: Vec<String>,
}

/// Seals the plan in a file and opens its round.
///
/// # Errors
/// [`AppError::Input`] with all that makes the plan impossible; nothing is sealed then.
pub fn seal_round(workspace: &Workspace, plan: &Path, now: Now) -> Result<Sealed, AppError> {
    let name = plan.display().to_string();
    let plan = exchange::read_plan(&name, &files::read_text(plan)?)?;
    seal_named(workspace, &name, plan, now)
}

/// Seals a plan that was made elsewhere than in a file, and opens its round.
///
/// # Errors
/// As [`seal_round`].
pub fn seal_plan(workspace: &Workspace, plan: Plan, now: Now) -> Result<Sealed, AppError> {
    let plan = plan.settled();
    plan.check().map_err(AppError::Refused)?;
    seal_named(workspace, THE_PLAN, plan, now)
}

/// What problems call a plan that stands in no file.
const THE_PLAN: &str = "the plan";

/// A name that is taken.
fn sealed_before(name: &RoundName) -> AppError {
    AppError::refused(
        format!("a round `{name}` was sealed before"),
        "give this one another name: a seal is never replaced",
    )
}

fn seal_named(workspace: &Workspace, name: &str, plan: Plan, now: Now) -> Result<Sealed, AppError> {
    let settings = workspace.settings()?;
    let name = name.to_owned();
    // All in one job: no consent is narrowed and no word excluded while the plan is looked at.
    workspace.store().write(move |writing| {
        let (draft, earlier) = Draft::new(plan, settings, writing)?;
        draft.problems(&name, &earlier).or(())?;
        let mut notices = consent::notices_of(writing, consent::day(now)?)?;
        notices.extend(draft.notices());
        let mut sealed = draft.write(writing, now)?;
        sealed.notices = notices;
        Ok(sealed)
    })
}

/// The tokens that a round may play now: neither left out nor a child's who is no longer in use.
pub(super) fn tokens_in_use(reading: &Reading<'_>) -> Result<Vec<TokenRow>, AppError> {
    Ok(choice::in_use(
        reading.tokens()?,
        &consent::stopped(reading)?,
    ))
}

/// A plan with the tokens that it plays, checked, and everything random about it.
struct Draft {
    plan: Plan,
    settings: StudySettings,
    seed: Seed,
    salt: Salt,
    entries: Vec<Entry>,
    children: BTreeSet<ChildCode>,
    consents: BTreeMap<ChildCode, Consent>,
    known: Vec<KnownWord>,
}

/// A token in the round to be.
struct Entry {
    id: TokenId,
    number: u32,
    stratum: Option<u32>,
    link: bool,
    salt: Salt,
    token: TokenRow,
}

impl Draft {
    /// The plan with the tokens that the study has for it now; not checked yet.
    fn new(
        plan: Plan,
        settings: StudySettings,
        reading: &Reading<'_>,
    ) -> Result<(Self, Earlier), AppError> {
        let seed = Seed::new(secret::seed());
        let consents = consent::in_force(reading)?;
        let earlier = Earlier::read(reading)?;
        let tokens = tokens_in_use(reading)?;
        let chosen = earlier.leave_out(&plan, choice::choose(&plan, &tokens));
        let mut played = sample::draw(&plan.tokens, chosen, &mut seed.sample());
        let new = played
            .iter()
            .filter(|token| token.key.use_.is_scored())
            .count();
        // Nobody chose the links by hand, so what no consent allows is no candidate.
        let may_link = |token: &TokenRow| {
            token.key.child.as_ref().is_none_or(|child| {
                let (use_, kind) = (token.key.use_, plan.listeners.kind);
                consent::forbids(child, consents.get(child), use_, kind).is_none()
            })
        };
        let links = earlier.links(&plan, new, &tokens, &may_link, &mut seed.links());
        let is_link: BTreeSet<_> = links.iter().map(|token| token.id).collect();
        played.extend(links);
        let strata = choice::strata(&played);
        let mut numbers: Vec<u32> = (1..).take(played.len()).collect();
        seed.sitting(0).shuffle(&mut numbers);
        let entries = played
            .iter()
            .zip(numbers)
            .map(|(token, number)| Entry {
                id: token.id,
                number,
                link: is_link.contains(&token.id),
                stratum: choice::stratum_of(token).and_then(|place| strata.get(&place).copied()),
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
            consents,
            known: answers::known_words_of(reading)?,
        };
        Ok((draft, earlier))
    }

    fn write(self, writing: &Writing<'_>, now: Now) -> Result<Sealed, AppError> {
        if writing.round_named(&self.plan.round)?.is_some() {
            return Err(sealed_before(&self.plan.round));
        }
        let listeners: Vec<_> = (1..=self.plan.listeners.invited)
            .map(|number| self.invite(number, now))
            .collect::<Result<_, _>>()?;
        let earlier: Vec<_> = writing
            .rounds()?
            .into_iter()
            .map(|round| round.seal)
            .collect();
        let known_answers = self.known_answers();
        let assignment = writing.assignments()?.pop().map(|row| row.seal);
        let open = self.open_link(now);
        let document = self.document(
            &listeners,
            open.as_ref().map(|(new, _)| new),
            &earlier,
            assignment.as_deref(),
            writing.head()?,
        )?;
        let seal = seal::seal_of(&document);
        let round = writing.add_round(&RoundRow {
            id: RoundId::default(),
            name: self.plan.round.clone(),
            state: RoundState::Open,
            plan: log::canonical(&document::as_json(&self.plan)?)?.to_string(),
            document: document.to_string(),
            seal: seal.to_string(),
            seed: *self.seed.as_bytes(),
            salt: self.salt,
            opened_ms: Some(now.ms()),
            closed_ms: None,
            unlocked_ms: None,
            paused: false,
        })?;
        for entry in &self.entries {
            let new = NewRoundToken {
                token: entry.id,
                number: entry.number,
                use_: entry.token.key.use_,
                stratum: entry.stratum,
                link: entry.link,
                salt: &entry.salt,
            };
            writing.add_round_token(round, &new)?;
        }
        let children: BTreeMap<_, _> = writing
            .children()?
            .into_iter()
            .map(|child| (child.code, child.id))
            .collect();
        let mut personal = Vec::with_capacity(listeners.len());
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
            personal.push(Link {
                number: new.number,
                listener: new.code,
                path: links::path_of(&secret),
            });
        }
        let open_link = match open {
            None => None,
            Some((new, secret)) => {
                writing.add_open_link(round, &new)?;
                Some(OpenLink {
                    number: new.number,
                    cap: new.cap,
                    path: links::path_of(&secret),
                })
            }
        };
        let body = json!({"round": self.plan.round.as_str(), "seal": seal.to_string()});
        let head = log::append(writing, now, sheet::SEALED, &body)?;
        Ok(Sealed {
            round: self.plan.round,
            seal: seal.to_string(),
            receipt: head.receipt().to_string(),
            consent_version: self.plan.texts.consent_version,
            links: personal,
            open_link,
            known_answers,
            notices: Vec::new(),
        })
    }

    /// By how many people the answers of the check and practice words are known.
    fn known_answers(&self) -> KnownAnswers {
        let played: BTreeSet<_> = self
            .entries
            .iter()
            .map(|entry| entry.token.prepared.sha256.as_str())
            .collect();
        let mut counts = KnownAnswers::default();
        for word in &self.known {
            match word.standing {
                _ if !played.contains(word.sha256.as_str()) => {}
                Standing::Agreed => counts.by_two += 1,
                Standing::ByOneBecause(_) => {
                    counts.by_one += 1;
                    counts.with_a_reason += 1;
                }
                Standing::ByOne | Standing::Disputed => counts.by_one += 1,
            }
        }
        counts
    }

    fn invite(&self, number: u32, now: Now) -> Result<(NewEnrolment, String), AppError> {
        let new = NewListener {
            number,
            kind: self.plan.listeners.kind,
            expires_ms: links::expiry(self.plan.listeners.link_days, now.ms()),
            open_link: None,
        };
        links::new_enrolment(new, &self.seed)
    }

    /// The open link that the plan asks for, with its secret.
    fn open_link(&self, now: Now) -> Option<(NewOpenLink, String)> {
        let listeners = &self.plan.listeners;
        let secret = secret::token();
        let new = NewOpenLink {
            number: 1,
            kind: listeners.kind,
            cap: listeners.open,
            link_sha256: secret::digest_of(&secret),
            expires_ms: links::expiry(listeners.link_days, now.ms()),
        };
        (listeners.open > 0).then_some((new, secret))
    }
}
