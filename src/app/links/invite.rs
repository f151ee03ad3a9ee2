//! Inviting after the seal: the plan did not foresee it, so the log tells it and the report says it.

use std::collections::BTreeMap;

use serde_json::Value;
use serde_json::json;

use super::Link;
use super::NewListener;
use super::OpenLink;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::consent;
use crate::app::log;
use crate::app::round;
use crate::app::secret;
use crate::blinding::Seed;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::ChildId;
use crate::store::NewOpenLink;
use crate::store::RoundRow;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::ListenerKind;
use crate::study::Plan;
use crate::study::RoundName;
use crate::study::RoundState;

/// Whom to invite beside those whom the plan names.
#[derive(Debug, Clone, Default)]
pub struct Invitation {
    /// How many personal links.
    pub listeners: u32,
    /// An open link for so many listeners.
    pub open: Option<u32>,
    /// Naive or expert; absent: as the plan says.
    pub kind: Option<ListenerKind>,
    /// Children whom none of them must hear.
    pub bars: Vec<ChildCode>,
    /// Days in which a link must be used for the first time; absent: as the plan says.
    pub days: Option<u32>,
}

/// Who was invited. The links are shown this once.
#[derive(Debug, Clone)]
pub struct Invited {
    /// The round.
    pub round: RoundName,
    /// The personal links.
    pub links: Vec<Link>,
    /// The open link.
    pub open_link: Option<OpenLink>,
    /// Where the log stands now, short: to be deposited elsewhere.
    pub receipt: String,
}

/// Makes further links of an open round.
///
/// # Errors
/// [`AppError::Refused`] if there is no such round, it is not open, nobody is invited, or a bar
/// names a child whom the study does not have;
/// [`AppError::Input`] with each child whose consent does not allow such listeners.
pub fn invite(
    workspace: &Workspace,
    name: &RoundName,
    wanted: &Invitation,
    now: Now,
) -> Result<Invited, AppError> {
    make(workspace, name, wanted, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`invite`].
pub fn invite_by(
    workspace: &Workspace,
    name: &RoundName,
    wanted: &Invitation,
    by: &Person,
    now: Now,
) -> Result<Invited, AppError> {
    make(workspace, name, wanted, Some(by), now)
}

fn make(
    workspace: &Workspace,
    name: &RoundName,
    wanted: &Invitation,
    by: Option<&Person>,
    now: Now,
) -> Result<Invited, AppError> {
    check(wanted)?;
    let (name, wanted) = (name.clone(), wanted.clone());
    let by = by.map(|by| by.code.clone());
    workspace.store().write(move |writing| {
        let round = round::named(writing, &name)?;
        if round.state != RoundState::Open {
            return Err(AppError::refused(
                format!("round {name} is {}", round.state),
                "invite to a round that is open",
            ));
        }
        let inviting = Inviting::new(&round, &wanted, by, now)?;
        consent::check_listeners(writing, &round, inviting.kind)?;
        let links = inviting.personal(writing, &wanted)?;
        let open_link = wanted
            .open
            .map(|cap| inviting.open(writing, cap))
            .transpose()?;
        Ok(Invited {
            round: name,
            links,
            open_link,
            receipt: writing.head()?.receipt().to_string(),
        })
    })
}

fn check(wanted: &Invitation) -> Result<(), AppError> {
    if wanted.listeners == 0 && wanted.open.is_none() {
        return Err(AppError::refused(
            "nobody is invited",
            "say how many personal links, or for how many an open link",
        ));
    }
    if wanted.open == Some(0) {
        return Err(AppError::refused(
            "an open link for 0 listeners lets nobody in",
            "give at least 1",
        ));
    }
    if wanted.open.is_some() && !wanted.bars.is_empty() {
        return Err(AppError::refused(
            "nobody knows who comes by an open link, so it can bar nobody from a child",
            "invite those who know a child by personal links",
        ));
    }
    if wanted.days == Some(0) {
        return Err(AppError::refused(
            "a link that holds for 0 days opens nothing",
            "give at least 1",
        ));
    }
    Ok(())
}

/// An invitation under way.
struct Inviting<'r> {
    round: &'r RoundRow,
    kind: ListenerKind,
    expires_ms: Option<i64>,
    /// The account that invites.
    by: Option<String>,
    now: Now,
}

impl<'r> Inviting<'r> {
    fn new(
        round: &'r RoundRow,
        wanted: &Invitation,
        by: Option<String>,
        now: Now,
    ) -> Result<Self, AppError> {
        let plan: Plan = serde_json::from_str(&round.plan)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        let days = wanted.days.or(plan.listeners.link_days);
        Ok(Self {
            round,
            kind: wanted.kind.unwrap_or(plan.listeners.kind),
            expires_ms: super::expiry(days, now.ms()),
            by,
            now,
        })
    }

    fn personal(&self, writing: &Writing<'_>, wanted: &Invitation) -> Result<Vec<Link>, AppError> {
        if wanted.listeners == 0 {
            return Ok(Vec::new());
        }
        let barred = barred(writing, &wanted.bars)?;
        let seed = Seed::new(self.round.seed);
        let first = next_number(writing, self.round)?;
        let mut links = Vec::new();
        let mut told = Vec::new();
        for number in (first..).take(wanted.listeners as usize) {
            let new = NewListener {
                number,
                kind: self.kind,
                expires_ms: self.expires_ms,
                open_link: None,
            };
            let (new, secret) = super::new_enrolment(new, &seed)?;
            let (_, listener) = writing.add_enrolment(self.round.id, &new)?;
            let mut bars = Vec::new();
            for (child, code) in &barred {
                let salt = secret::salt();
                writing.bar_after_seal(listener, *child, &salt, self.now.ms())?;
                bars.push(bar_commitment(&salt, code.as_str())?);
            }
            let mut one = super::told_of(&new);
            if let (false, Some(fields)) = (bars.is_empty(), one.as_object_mut()) {
                fields.insert("bars".to_owned(), json!(bars));
            }
            told.push(one);
            links.push(Link {
                number,
                listener: new.code,
                path: super::path_of(&secret),
            });
        }
        let body = json!({"round": self.round.name, "listeners": Value::Array(told)});
        let body = log::by(body, self.by.as_deref());
        log::append(writing, self.now, "listeners invited", &body)?;
        Ok(links)
    }

    fn open(&self, writing: &Writing<'_>, cap: u32) -> Result<OpenLink, AppError> {
        let links = writing.open_links(self.round.id)?;
        let number = links.last().map_or(0, |link| link.number) + 1;
        let secret = secret::token();
        let new = NewOpenLink {
            number,
            kind: self.kind,
            cap,
            link_sha256: secret::digest_of(&secret),
            expires_ms: self.expires_ms,
        };
        writing.add_open_link(self.round.id, &new)?;
        let body = json!({"round": self.round.name, "open_link": super::told_of_open(&new)});
        let body = log::by(body, self.by.as_deref());
        log::append(writing, self.now, "open link made", &body)?;
        Ok(OpenLink {
            number,
            cap,
            path: super::path_of(&secret),
        })
    }
}

/// The number of the next listener of a round.
pub(in crate::app) fn next_number(
    writing: &Writing<'_>,
    round: &RoundRow,
) -> Result<u32, AppError> {
    Ok(writing.last_number(round.id)? + 1)
}

/// What the log says of a bar that was made after the seal: who it is cannot be told without the
/// salt beside the row.
pub(in crate::app) fn bar_commitment(salt: &Salt, child: &str) -> Result<Digest, AppError> {
    Ok(seal::commit(
        salt,
        &log::canonical(&json!({"child": child}))?,
    ))
}

fn barred(
    writing: &Writing<'_>,
    wanted: &[ChildCode],
) -> Result<Vec<(ChildId, ChildCode)>, AppError> {
    let known: BTreeMap<_, _> = writing
        .children()?
        .into_iter()
        .map(|child| (child.code, child.id))
        .collect();
    let mut wanted: Vec<_> = wanted.to_vec();
    wanted.sort_unstable();
    wanted.dedup();
    wanted
        .into_iter()
        .map(|code| {
            let id = known.get(&code).copied();
            id.map(|id| (id, code)).ok_or_else(|| {
                AppError::refused(
                    "a bar names a child whom the study does not have",
                    "check the child's code",
                )
            })
        })
        .collect()
}
