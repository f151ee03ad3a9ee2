//! Sealing a round: the plan is held against the tokens, written down, hashed, and opened.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use serde_json::json;

mod checks;
mod choice;
// What is sealed.
pub(super) mod document;

use super::AppError;
use super::Now;
use super::Workspace;
use super::answers;
use super::answers::KnownWord;
use super::answers::Standing;
use super::consent;
use super::files;
use super::log;
use super::secret;
use crate::blinding;
use crate::blinding::Seed;
use crate::exchange;
use crate::seal;
use crate::seal::Salt;
use crate::store::NewEnrolment;
use crate::store::Reading;
use crate::store::RoundId;
use crate::store::RoundRow;
use crate::store::TokenId;
use crate::store::TokenRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::Consent;
use crate::study::ListenerCode;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::RoundState;
use crate::study::StudySettings;
use crate::study::record::KnownAnswers;

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
    /// How many check and practice words two people answered, and how many one person alone.
    pub known_answers: KnownAnswers,
    /// What staff should see to, for the desk alone.
    pub notices: Vec<String>,
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
    // All in one job: no consent is narrowed and no word excluded while the plan is looked at.
    workspace.store().write(move |writing| {
        let draft = Draft::new(&name, plan, settings, writing)?;
        let mut sealed = draft.write(writing, now)?;
        sealed.notices = consent::notices_of(writing, consent::day(now)?)?;
        Ok(sealed)
    })
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
    salt: Salt,
    token: TokenRow,
}

impl Draft {
    fn new(
        name: &str,
        plan: Plan,
        settings: StudySettings,
        reading: &Reading<'_>,
    ) -> Result<Self, AppError> {
        let tokens = reading.tokens()?;
        let seed = Seed::new(secret::seed());
        let played = choice::choose(&plan, &tokens, &consent::stopped(reading)?);
        let strata = choice::strata(&played);
        let mut numbers: Vec<u32> = (1..).take(played.len()).collect();
        seed.sitting(0).shuffle(&mut numbers);
        let entries = played
            .iter()
            .zip(numbers)
            .map(|(token, number)| Entry {
                id: token.id,
                number,
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
            consents: consent::in_force(reading)?,
            known: answers::known_words_of(reading)?,
        };
        let problems = draft.problems(name);
        Ok(problems.or(draft)?)
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
        let known_answers = self.known_answers();
        let document = self.document(&listeners, &earlier, writing.head()?)?;
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
            consent_version: self.plan.texts.consent_version,
            links,
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
}
