//! Children by code, and what their families agreed to.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use jiff::civil::Date;
use serde_json::json;

use super::AppError;
use super::Now;
use super::Person;
use super::Workspace;
use super::files;
use super::log;
use super::secret;
use crate::exchange;
use crate::exchange::ConsentLine;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::ChildId;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::StoreError;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::ChildLabel;
use crate::study::Consent;
use crate::study::ListenerKind;
use crate::study::Plan;
use crate::study::Problem;
use crate::study::Problems;
use crate::study::RoundState;
use crate::study::Use;

/// A child as the desk knows her. The label is for the desk's eyes alone: nothing but these acts
/// gives it out, and neither log, export nor report holds it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Child {
    /// Her code.
    pub code: ChildCode,
    /// What the desk calls her.
    pub label: Option<ChildLabel>,
    /// What her family agreed to, if it was noted.
    pub consent: Option<Consent>,
    /// Whether she is out of use.
    pub stopped: bool,
}

/// The children of the study by code, peers and speakers of examples among them.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn children(workspace: &Workspace) -> Result<Vec<Child>, AppError> {
    workspace.store().read(|reading| {
        let mut labels: BTreeMap<_, _> = reading.child_labels()?.into_iter().collect();
        let mut consents = in_force(reading)?;
        let stopped = stopped(reading)?;
        Ok(reading
            .children()?
            .into_iter()
            .map(|child| Child {
                label: labels.remove(&child.code),
                consent: consents.remove(&child.code),
                stopped: stopped.contains(&child.code),
                code: child.code,
            })
            .collect())
    })
}

/// Adds a child of whom nothing was recorded yet. Cohort and sessions come with her recordings.
///
/// # Errors
/// [`AppError::Refused`] if the code is taken.
pub fn add_child(
    workspace: &Workspace,
    code: &ChildCode,
    label: Option<&ChildLabel>,
) -> Result<(), AppError> {
    let (code, label) = (code.clone(), label.cloned());
    workspace.store().write(move |writing| {
        if writing.children()?.iter().any(|child| child.code == code) {
            return Err(AppError::refused(
                format!("the study has a child {code} already"),
                "give the other one another code",
            ));
        }
        let child = writing.add_child(&code, None, false)?;
        Ok(writing.set_child_label(child, label.as_ref())?)
    })
}

/// Gives a child a label, or takes it away with `None`.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child.
pub fn label_child(
    workspace: &Workspace,
    code: &ChildCode,
    label: Option<&ChildLabel>,
) -> Result<(), AppError> {
    let (code, label) = (code.clone(), label.cloned());
    workspace.store().write(move |writing| {
        let child = child_of(writing, &code)?;
        Ok(writing.set_child_label(child, label.as_ref())?)
    })
}

/// The child with that code.
pub(super) fn child_of(reading: &Reading<'_>, code: &ChildCode) -> Result<ChildId, AppError> {
    let children = reading.children()?;
    let found = children.iter().find(|child| child.code == *code);
    found.map(|child| child.id).ok_or_else(|| {
        AppError::refused(
            format!("the study has no child {code}"),
            "check the code, or add her with `fairhearing child add`",
        )
    })
}

/// Notes what a family agreed to. It takes the place of what was noted before.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child, or if an open round plays what would no
/// longer be allowed.
pub fn record_consent(
    workspace: &Workspace,
    code: &ChildCode,
    consent: &Consent,
    now: Now,
) -> Result<(), AppError> {
    record(workspace, code, consent, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`record_consent`].
pub fn record_consent_by(
    workspace: &Workspace,
    code: &ChildCode,
    consent: &Consent,
    by: &Person,
    now: Now,
) -> Result<(), AppError> {
    record(workspace, code, consent, Some(by), now)
}

fn record(
    workspace: &Workspace,
    code: &ChildCode,
    consent: &Consent,
    by: Option<&Person>,
    now: Now,
) -> Result<(), AppError> {
    consent.check().map_err(AppError::Refused)?;
    let (code, consent) = (code.clone(), consent.clone());
    let by = by.map(|by| by.code.clone());
    workspace.store().write(move |writing| {
        let child = known_child(writing, &code)?.map_or_else(|| child_of(writing, &code), Ok)?;
        check_open_rounds(writing, child, &code, &consent)?;
        let row = note(writing, child, &code, &consent)?;
        log_consents(writing, vec![row], by.as_deref(), now)
    })
}

/// Notes the consents in a file, all or none; says how many there are. A row that says what is
/// noted already adds nothing.
///
/// # Errors
/// [`AppError::Input`] with all that is wrong in the file; [`AppError::Refused`] as for
/// [`record_consent`].
pub fn record_consents(workspace: &Workspace, file: &Path, now: Now) -> Result<usize, AppError> {
    let name = file.display().to_string();
    let bytes = files::read(file)?;
    let lines = exchange::read_consents(&name, exchange::divided_by_commas(&bytes).as_ref())?;
    workspace.store().write(move |writing| {
        let before = in_force(writing)?;
        let mut rows = Vec::new();
        for (line, child) in known_children(writing, &name, lines)? {
            if before.get(&line.child) == Some(&line.consent) {
                continue;
            }
            check_open_rounds(writing, child, &line.child, &line.consent)?;
            rows.push(note(writing, child, &line.child, &line.consent)?);
        }
        let noted = rows.len();
        log_consents(writing, rows, None, now)?;
        Ok(noted)
    })
}

fn known_children(
    writing: &Writing<'_>,
    name: &str,
    lines: Vec<ConsentLine>,
) -> Result<Vec<(ConsentLine, ChildId)>, AppError> {
    let mut problems = Problems::default();
    let mut known = Vec::with_capacity(lines.len());
    for line in lines {
        if let Some(child) = known_child(writing, &line.child)? {
            known.push((line, child));
        } else {
            let problem = Problem::new(
                name,
                "the study has no child of that code",
                "check it, or add the child with `fairhearing child add` first",
            );
            problems.push(problem.at_line(line.line).in_column("child"));
        }
    }
    Ok(problems.or(known)?)
}

/// Whether a child stands in something that was drawn.
pub(super) fn is_drawn(reading: &Reading<'_>, code: &ChildCode) -> Result<bool, StoreError> {
    for assignment in reading.assignments()? {
        let drawn = reading.assigned_children(assignment.id)?;
        if drawn.iter().any(|child| child.code == *code) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The child with that code. Who only speaks examples, or was drawn and not recorded yet, becomes a
/// child of the study here.
pub(super) fn known_child(
    writing: &Writing<'_>,
    code: &ChildCode,
) -> Result<Option<ChildId>, StoreError> {
    let children = writing.children()?;
    if let Some(child) = children.iter().find(|child| child.code == *code) {
        return Ok(Some(child.id));
    }
    let speaks = writing
        .tokens()?
        .iter()
        .any(|token| token.key.child.as_ref() == Some(code));
    (speaks || is_drawn(writing, code)?)
        .then(|| writing.add_child(code, None, false))
        .transpose()
}

fn note(
    writing: &Writing<'_>,
    child: ChildId,
    code: &ChildCode,
    consent: &Consent,
) -> Result<Digest, AppError> {
    let salt = secret::salt();
    writing.add_consent(child, consent, &salt)?;
    consent_digest(&salt, code, consent)
}

/// What the log says of a consent: a salted digest of whose it is and what was agreed to.
pub(super) fn consent_digest(
    salt: &Salt,
    code: &ChildCode,
    consent: &Consent,
) -> Result<Digest, AppError> {
    let value = json!({"child": code, "consent": consent});
    Ok(seal::commit(salt, &log::canonical(&value)?))
}

/// The digests stand sorted: their order does not tell whose they are.
fn log_consents(
    writing: &Writing<'_>,
    mut rows: Vec<Digest>,
    by: Option<&str>,
    now: Now,
) -> Result<(), AppError> {
    if !rows.is_empty() {
        rows.sort_unstable();
        let body = log::by(json!({"rows": rows}), by);
        log::append(writing, now, "consents noted", &body)?;
    }
    Ok(())
}

/// The consent that holds for each child: the last that was noted.
pub(super) fn in_force(reading: &Reading<'_>) -> Result<BTreeMap<ChildCode, Consent>, StoreError> {
    let rows = reading.consents()?.into_iter();
    Ok(rows.map(|row| (row.code, row.consent)).collect())
}

/// The codes of the children who are out of use.
pub(super) fn stopped(reading: &Reading<'_>) -> Result<BTreeSet<ChildCode>, StoreError> {
    let rows = reading.stopped_children()?.into_iter();
    Ok(rows.map(|row| row.code).collect())
}

/// Why recordings of a child may not be played: `what` and `mend` of a problem.
pub(super) fn forbids(
    code: &ChildCode,
    consent: Option<&Consent>,
    use_: Use,
    kind: ListenerKind,
) -> Option<(String, String)> {
    let allowed = consent.is_some_and(|consent| consent.allows(use_, kind));
    if allowed {
        return None;
    }
    let needed: Vec<_> = crate::study::needed_scopes(use_, kind)
        .iter()
        .map(|scope| format!("`{scope}`"))
        .collect();
    let needed = needed.join(" or ");
    let words = if use_.is_scored() {
        format!("words heard by {kind} listeners")
    } else {
        "words for practice, checks and examples".to_owned()
    };
    Some(match consent {
        None => (
            format!("no consent is noted for {code}, whose {words} need the scope {needed}"),
            "note what was agreed to with `fairhearing consent`, or leave the child out".to_owned(),
        ),
        Some(consent) if consent.assent == crate::study::Assent::Refused => (
            format!("{code} does not want to be heard"),
            "leave the child out".to_owned(),
        ),
        Some(consent) => (
            format!(
                "the consent of {code} (version {}) does not hold the scope {needed} that {words} need",
                consent.version
            ),
            "ask the family and note what it says, or leave the child out".to_owned(),
        ),
    })
}

/// A narrower consent is refused while an open round plays what it no longer allows.
fn check_open_rounds(
    writing: &Writing<'_>,
    child: ChildId,
    code: &ChildCode,
    consent: &Consent,
) -> Result<(), AppError> {
    if stopped(writing)?.contains(code) {
        return Ok(());
    }
    for round in writing.rounds()? {
        if round.state == RoundState::Open && plays_against(writing, &round, child, code, consent)?
        {
            return Err(AppError::refused(
                format!(
                    "round {} is open and plays {code}, which this consent does not allow",
                    round.name
                ),
                "take the child out of use first with `fairhearing withdraw`, or close the round",
            ));
        }
    }
    Ok(())
}

fn plays_against(
    reading: &Reading<'_>,
    round: &RoundRow,
    child: ChildId,
    code: &ChildCode,
    consent: &Consent,
) -> Result<bool, AppError> {
    let speaks: BTreeSet<_> = reading
        .tokens()?
        .into_iter()
        .filter(|token| token.key.child.as_ref() == Some(code))
        .map(|token| token.id)
        .collect();
    let kinds = kinds_in(reading, round)?;
    Ok(reading.round_tokens(round.id)?.iter().any(|token| {
        let hers = token.child == Some(child) || speaks.contains(&token.token);
        hers && kinds.iter().any(|kind| !consent.allows(token.use_, *kind))
    }))
}

/// Refuses listeners of a kind in a round whose words no consent lets them hear.
pub(super) fn check_listeners(
    reading: &Reading<'_>,
    round: &RoundRow,
    kind: ListenerKind,
) -> Result<(), AppError> {
    let consents = in_force(reading)?;
    let speakers: BTreeMap<_, _> = reading
        .tokens()?
        .into_iter()
        .filter_map(|token| Some((token.id, token.key.child?)))
        .collect();
    let mut found = BTreeSet::new();
    for token in reading.round_tokens(round.id)? {
        if let Some(code) = speakers.get(&token.token).filter(|_| token.in_use) {
            found.extend(forbids(code, consents.get(code), token.use_, kind));
        }
    }
    let mut problems = Problems::default();
    for (what, _) in found {
        problems.push(Problem::new(
            round.name.as_str(),
            what,
            "ask the family and note what it says, or invite listeners of another kind",
        ));
    }
    Ok(problems.or(())?)
}

/// Who listens in a round: the kind that the plan invites, and those invited since.
fn kinds_in(reading: &Reading<'_>, round: &RoundRow) -> Result<BTreeSet<ListenerKind>, AppError> {
    let plan: Plan = serde_json::from_str(&round.plan)
        .map_err(|error| AppError::Unreadable(error.to_string()))?;
    let invited = reading.enrolments(round.id)?;
    let mut kinds: BTreeSet<_> = invited.iter().map(|listener| listener.kind).collect();
    kinds.insert(plan.listeners.kind);
    let open_links = reading.open_links(round.id)?;
    kinds.extend(open_links.iter().map(|link| link.kind));
    Ok(kinds)
}

/// What staff should see to: recordings that should be gone by now, and children whose consent is
/// not noted. Each is a sentence, for the desk alone.
///
/// # Errors
/// [`AppError::Store`] if the study cannot be read.
pub fn notices(workspace: &Workspace, now: Now) -> Result<Vec<String>, AppError> {
    let today = day(now)?;
    workspace.store().read(|reading| notices_of(reading, today))
}

pub(super) fn notices_of(reading: &Reading<'_>, today: Date) -> Result<Vec<String>, AppError> {
    let consents = in_force(reading)?;
    let mut said = Vec::new();
    for child in reading.children()? {
        let code = &child.code;
        match consents.get(code) {
            None => said.push(format!(
                "No consent is noted for {code}: note it with `fairhearing consent`."
            )),
            Some(consent) if consent.is_over(today) => said.push(format!(
                "The recordings of {code} were to be kept until {}: erase them with \
                 `fairhearing withdraw`, or note a new consent.",
                consent
                    .keep_until
                    .map_or_else(String::new, |last| last.to_string())
            )),
            Some(_) => {}
        }
    }
    Ok(said)
}

/// The day in UTC.
pub(super) fn day(now: Now) -> Result<Date, AppError> {
    jiff::Timestamp::from_millisecond(now.ms())
        .map(|moment| jiff::tz::Offset::UTC.to_datetime(moment).date())
        .map_err(|error| AppError::Unreadable(error.to_string()))
}
