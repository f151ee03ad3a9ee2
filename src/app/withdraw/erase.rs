//! Erasing: one transaction takes the rows and notes which files are still to go; then they go.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;
use serde_json::json;

use super::CHILD_ERASED;
use super::LISTENER_ERASED;
use super::files;
use super::files::Found;
use super::finish;
use super::preview;
use super::preview::Copied;
use super::preview::ListenerTraces;
use super::preview::Traces;
use super::stopped_digest;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Person;
use crate::app::Workspace;
use crate::app::answers;
use crate::app::clinic::shared;
use crate::app::consent;
use crate::app::exclude;
use crate::app::files as disk;
use crate::app::links;
use crate::app::listening;
use crate::app::log;
use crate::app::masked;
use crate::app::sealing::document;
use crate::app::secret;
use crate::app::verify::gone;
use crate::app::withdrawal;
use crate::exchange;
use crate::seal;
use crate::seal::Digest;
use crate::store::Reading;
use crate::store::RoundRow;
use crate::store::TokenId;
use crate::store::Writing;
use crate::study::ChildCode;
use crate::study::ListenerCode;

/// What was erased. Nothing in it tells whose it was.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Erased {
    /// Recordings that are gone.
    pub recordings: usize,
    /// Judgements of them that are gone, all revisions.
    pub judgements: usize,
    /// Files that went from the study's folder beside them.
    pub files: usize,
    /// Files in the study's folder that name the child and were left for whoever wrote them.
    pub left_files: Vec<String>,
    /// Copies that are out of reach.
    pub copies: Vec<Copied>,
    /// Where the log stands now, short.
    pub receipt: String,
}

/// Erases a child: recordings, rows, judgements, consents, label, and every export in the study's
/// folder that holds something of hers. A kill in the middle leaves either everything as it was or
/// an erasure that the next start goes on with.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such child; [`AppError::File`] or [`AppError::Store`]
/// where the disk does not do its part: the next start tries again.
pub fn erase_child(workspace: &Workspace, code: &ChildCode, now: Now) -> Result<Erased, AppError> {
    erase(workspace, code, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`erase_child`].
pub fn erase_child_by(
    workspace: &Workspace,
    code: &ChildCode,
    by: &Person,
    now: Now,
) -> Result<Erased, AppError> {
    erase(workspace, code, Some(by), now)
}

fn erase(
    workspace: &Workspace,
    code: &ChildCode,
    by: Option<&Person>,
    now: Now,
) -> Result<Erased, AppError> {
    let traces = workspace
        .store()
        .read(|reading| Traces::of(reading, code))?;
    let turn = finish::Turn::take(workspace)?;
    let found = files::found(workspace, &traces)?;
    let changed = lay_out_changed(workspace, &found, &traces)?;
    let mut paths = finish::audio_of(&traces.originals, &traces.prepared);
    paths.extend(found.removed.iter().map(|path| finish::remove(path)));
    paths.extend(changed);
    paths.push(finish::RECORDINGS.to_owned());
    // Where she has no file, her rows are still in the pages of the store.
    paths.push(finish::SCRUB.to_owned());
    let left_files = files::shown(&found.left);
    let copies = workspace
        .store()
        .read(|reading| preview::copies(reading, workspace))?;
    let erased = Erased {
        recordings: traces.tokens.len(),
        judgements: 0,
        files: found.removed.len() + found.changed.len(),
        left_files,
        copies,
        receipt: String::new(),
    };
    let (code, by) = (code.clone(), by.map(|by| by.code.clone()));
    let erased = workspace.store().write(move |writing| {
        let mut erased = erased;
        erased.judgements = child_rows(writing, &code, by.as_deref(), now)?;
        erased.receipt = writing.head()?.receipt().to_string();
        writing.set_unfinished_erasure(&paths)?;
        Ok::<_, AppError>(erased)
    })?;
    turn.finish()?;
    Ok(erased)
}

/// Writes the tables without the child's rows beside the old ones; each becomes the new one once the
/// rows of the store are gone.
fn lay_out_changed(
    workspace: &Workspace,
    found: &Found,
    traces: &Traces,
) -> Result<Vec<String>, AppError> {
    let folder = workspace.folder().join(finish::CHANGED);
    let mut steps = Vec::new();
    for (number, path) in (1..).zip(&found.changed) {
        let bytes = disk::read(&workspace.folder().join(path))?;
        // Whoever wrote the table may have taken her rows out meanwhile: then it stays as it is.
        let Some(rest) = exchange::without_rows(&bytes, &|cell| files::is_her_cell(cell, traces))
        else {
            continue;
        };
        let fresh = Path::new(finish::CHANGED).join(format!("{number}"));
        disk::write(&workspace.folder().join(&fresh), &rest)?;
        steps.push(finish::replace(&fresh, path));
    }
    disk::settle_folder(&folder);
    Ok(steps)
}

/// Takes the rows of a child and logs that it happened; says how many judgements went.
fn child_rows(
    writing: &Writing<'_>,
    code: &ChildCode,
    by: Option<&str>,
    now: Now,
) -> Result<usize, AppError> {
    let traces = Traces::of(writing, code)?;
    let (mut items, judgements) = places_of(writing, &traces.tokens)?;
    items.extend(noted_rows(writing, code, &traces.tokens)?);
    items.extend(drawn_and_barred(writing, code)?);
    let plans = forget_in_plans(writing, code)?;
    let tokens: Vec<_> = traces.tokens.iter().copied().collect();
    writing.erase_tokens(&tokens)?;
    writing.erase_assigned(code)?;
    // A form that is being filled may name the child.
    writing.forget_round_drafts()?;
    if let Ok(child) = consent::child_of(writing, code) {
        writing.erase_child(child)?;
    }
    let earlier = writing.events()?;
    let earlier = earlier.iter().filter(|row| is_erasure(&row.event.kind));
    items.push(gone::counts(
        earlier.count() + 1,
        tokens.len(),
        traces.missing,
    ));
    let told = log::by(json!({"plans": plans}), by);
    log_gone(writing, CHILD_ERASED, &items, told, now)?;
    listening::drop_unused(writing, now)?;
    Ok(judgements)
}

fn is_erasure(kind: &str) -> bool {
    kind == CHILD_ERASED || kind == LISTENER_ERASED
}

fn log_gone(
    writing: &Writing<'_>,
    kind: &str,
    items: &[String],
    mut body: Value,
    now: Now,
) -> Result<(), AppError> {
    writing.add_gone(items)?;
    if let Some(fields) = body.as_object_mut() {
        fields.insert("gone".to_owned(), json!(gone::digest(&writing.gone()?)));
    }
    log::append(writing, now, kind, &body)?;
    Ok(())
}

/// The tokens of every round and the presentations that go with some tokens; and how many judgements.
fn places_of(
    reading: &Reading<'_>,
    tokens: &BTreeSet<TokenId>,
) -> Result<(Vec<String>, usize), AppError> {
    let mut items = Vec::new();
    let mut played = BTreeSet::new();
    for round in reading.rounds()? {
        for token in reading.round_tokens(round.id)? {
            if tokens.contains(&token.token) {
                played.insert(token.id);
                items.push(gone::token(round.name.as_str(), u64::from(token.number)));
            }
        }
    }
    let mut places = BTreeSet::new();
    for place in reading.presentations()? {
        if played.contains(&place.token) {
            places.insert(place.id);
            items.push(gone::place(&place.id.to_string()));
        }
    }
    let judgements = reading.judgements()?;
    let judged = judgements
        .iter()
        .filter(|row| places.contains(&row.presentation));
    Ok((items, judged.count()))
}

/// What staff noted of a child and her words.
fn noted_rows(
    reading: &Reading<'_>,
    code: &ChildCode,
    tokens: &BTreeSet<TokenId>,
) -> Result<Vec<String>, AppError> {
    let mut digests: Vec<Digest> = Vec::new();
    for row in reading.consents()?.iter().filter(|row| row.code == *code) {
        digests.push(consent::consent_digest(&row.salt, &row.code, &row.consent)?);
    }
    for row in reading
        .exclusions()?
        .iter()
        .filter(|row| tokens.contains(&row.token))
    {
        digests.extend(exclude::digest_of_row(row)?);
    }
    for row in reading
        .known_answers()?
        .iter()
        .filter(|row| tokens.contains(&row.token))
    {
        digests.push(answers::answer_digest(row)?);
    }
    for row in reading
        .single_judges()?
        .iter()
        .filter(|row| tokens.contains(&row.token))
    {
        digests.push(answers::single_digest(row)?);
    }
    for row in reading
        .stopped_children()?
        .iter()
        .filter(|row| row.code == *code)
    {
        if let Some(salt) = row.salt {
            digests.push(stopped_digest(&salt, &row.code)?);
        }
    }
    let shared = reading.shared_pages()?;
    for row in shared.iter().filter(|row| row.child == *code) {
        digests.push(shared::page_digest(row)?);
    }
    let graphs = reading.masked_graphs()?;
    for row in graphs.iter().filter(|row| row.code == *code) {
        digests.push(masked::graph_digest(row)?);
        digests.extend(masked::mark_digest(row)?);
    }
    let items = digests
        .iter()
        .map(|digest| gone::noted(&digest.to_string()));
    Ok(items.collect())
}

/// The child in what was drawn, and whom it was barred from after a seal.
fn drawn_and_barred(reading: &Reading<'_>, code: &ChildCode) -> Result<Vec<String>, AppError> {
    let mut items = Vec::new();
    for assignment in reading.assignments()? {
        let drawn = reading.assigned_children(assignment.id)?;
        items.extend(
            drawn
                .iter()
                .filter(|child| child.code == *code)
                .map(|child| gone::assigned(assignment.number.into(), child.number.into())),
        );
    }
    for bar in reading.bars_by_code()? {
        if let Some(salt) = bar.salt.filter(|_| bar.child == code.as_str()) {
            let said = links::bar_commitment(&salt, code.as_str())?;
            items.push(gone::bar(&bar.listener, &said.to_string()));
        }
    }
    Ok(items)
}

/// Takes a child's code out of every plan that names it. The sealed commitment to that half of the
/// plan loses its salt, so that nobody can try codes against it; the log gets the commitment to what
/// is left.
fn forget_in_plans(writing: &Writing<'_>, code: &ChildCode) -> Result<Value, AppError> {
    let mut plans = serde_json::Map::new();
    for round in writing.rounds()? {
        // As it was written: a later program may know of more fields.
        let mut plan: Value = serde_json::from_str(&round.plan)
            .map_err(|error| AppError::Unreadable(error.to_string()))?;
        if forget_in(&mut plan, code) {
            let private = replace_plan(writing, &round, plan)?;
            plans.insert(round.name.to_string(), json!(private));
        }
    }
    Ok(Value::Object(plans))
}

/// Takes a child's code out of the chosen children and the bars of a plan; says whether it was there.
fn forget_in(plan: &mut Value, code: &ChildCode) -> bool {
    let is_hers = |value: &Value| value.as_str() == Some(code.as_str());
    let mut found = false;
    for path in ["/tokens/children", "/listeners/bars"] {
        let Some(rows) = plan.pointer_mut(path).and_then(Value::as_array_mut) else {
            continue;
        };
        let before = rows.len();
        rows.retain(|row| !is_hers(row) && !row.get("child").is_some_and(is_hers));
        found |= rows.len() < before;
    }
    found
}

fn replace_plan(writing: &Writing<'_>, round: &RoundRow, plan: Value) -> Result<Digest, AppError> {
    let salt = secret::salt();
    let whole = log::canonical(&plan)?;
    let (_, private) = document::split_plan(plan);
    writing.replace_plan(round.id, whole.as_str(), &salt)?;
    Ok(seal::commit(&salt, &log::canonical(&private)?))
}

/// Erases a listener: her sittings and judgements, and how she came. Gives what went.
///
/// # Errors
/// [`AppError::Refused`] if the study has no such listener.
pub fn erase_listener(
    workspace: &Workspace,
    code: &ListenerCode,
    now: Now,
) -> Result<Erased, AppError> {
    erase_one_listener(workspace, code, None, now)
}

/// The same at the desk: the log tells who did it.
///
/// # Errors
/// As for [`erase_listener`].
pub fn erase_listener_by(
    workspace: &Workspace,
    code: &ListenerCode,
    by: &Person,
    now: Now,
) -> Result<Erased, AppError> {
    erase_one_listener(workspace, code, Some(by), now)
}

fn erase_one_listener(
    workspace: &Workspace,
    code: &ListenerCode,
    by: Option<&Person>,
    now: Now,
) -> Result<Erased, AppError> {
    let (code, by) = (code.clone(), by.map(|by| by.code.clone()));
    let turn = finish::Turn::take(workspace)?;
    let copies = workspace
        .store()
        .read(|reading| preview::copies(reading, workspace))?;
    let erased = workspace.store().write(move |writing| {
        let traces = ListenerTraces::of(writing, &code)?;
        let mut items: Vec<_> = traces
            .places
            .iter()
            .map(|id| gone::place(&id.to_string()))
            .collect();
        items.push(gone::listener(code.as_str()));
        let withdrew = writing.withdrawals()?;
        for row in withdrew.iter().filter(|row| row.listener == code) {
            if let Some(salt) = &row.salt {
                let who = withdrawal::who(salt, code.as_str())?;
                items.push(gone::withdrawal(&who.to_string()));
            }
        }
        writing.erase_listener(traces.listener)?;
        let told = log::by(json!({"plans": {}}), by.as_deref());
        log_gone(writing, LISTENER_ERASED, &items, told, now)?;
        writing.set_unfinished_erasure(&[finish::SCRUB.to_owned()])?;
        Ok::<_, AppError>(Erased {
            recordings: 0,
            judgements: traces.judgements,
            files: 0,
            left_files: Vec::new(),
            copies,
            receipt: writing.head()?.receipt().to_string(),
        })
    })?;
    turn.finish()?;
    Ok(erased)
}
