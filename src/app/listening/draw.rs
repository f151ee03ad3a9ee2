//! Drawing a sitting: which words this listener hears, in which order, under which names.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::json;

use super::ListeningError;
use super::course;
use super::entry::Listening;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::blinding;
use crate::blinding::Candidate;
use crate::blinding::Chance;
use crate::blinding::Extra;
use crate::blinding::Seed;
use crate::blinding::SittingDesign;
use crate::blinding::Slot;
use crate::seal;
use crate::seal::Digest;
use crate::seal::Salt;
use crate::store::ChildId;
use crate::store::NewPresentation;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::RoundTokenRow;
use crate::store::SittingId;
use crate::store::SittingRow;
use crate::store::Step;
use crate::store::Writing;
use crate::study::PresentationId;
use crate::study::PresentationKind;
use crate::study::Use;

/// Makes the sitting with what is played before the first question: the sample and the examples.
pub(super) fn make_room(
    writing: &Writing<'_>,
    listening: &Listening,
    now: Now,
) -> Result<(), ListeningError> {
    let earlier = writing.sittings_of(listening.enrolment.id)?.len();
    let number = u32::try_from(earlier).unwrap_or(u32::MAX).saturating_add(1);
    // Streams of the seed are dealt in the order in which sittings begin.
    let stream = writing.sittings_in(listening.round.id)?.len() as u64 + 1;
    let id = writing.add_sitting(listening.enrolment.id, number, stream, now.ms())?;
    let sitting = Sitting { id, number, stream };
    furnish(writing, listening, sitting, 1, now)
}

/// Adds what is played before the first question: all examples, else one word to check the sound.
pub(super) fn furnish(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: Sitting,
    first: u32,
    now: Now,
) -> Result<(), ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let of_use = |use_| {
        tokens
            .iter()
            .filter(move |token: &&RoundTokenRow| token.use_ == use_ && token.in_use)
    };
    let mut played: Vec<_> = of_use(Use::Example).collect();
    if played.is_empty() {
        played.extend(of_use(Use::Practice).chain(of_use(Use::WarmUp)).next());
    }
    let slots: Vec<_> = played
        .iter()
        .map(|token| (PresentationKind::Example, *token))
        .collect();
    add_places(writing, listening, sitting, first, &slots, now)
}

/// The sitting that places are added to.
#[derive(Clone, Copy)]
pub(super) struct Sitting {
    id: SittingId,
    number: u32,
    stream: u64,
}

impl From<&SittingRow> for Sitting {
    fn from(row: &SittingRow) -> Self {
        Self {
            id: row.id,
            number: row.number,
            stream: row.stream,
        }
    }
}

/// Notes that she has read what to judge, and draws the sitting.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before the sound check.
pub fn begin(workspace: &Workspace, cookie: &str, now: Now) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        let enrolment = &listening.enrolment;
        if enrolment.sound_check_ms.is_none() {
            return Err(ListeningError::OutOfOrder);
        }
        let sittings = writing.sittings_of(enrolment.id)?;
        let sitting = sittings.last().ok_or(ListeningError::OutOfOrder)?;
        if sitting.ended_ms.is_some() || course::is_drawn(&writing.presentations_of(sitting.id)?) {
            return Ok(());
        }
        if enrolment.instructed_ms.is_none() {
            writing.note_step(enrolment.id, Step::Instructed, "", now.ms())?;
            let body = json!({"listener": enrolment.code});
            log::append(writing, now, "instructed", &body)?;
        }
        give_back_idle(writing, &listening, now)?;
        writing.touch_sitting(sitting.id, now.ms())?;
        draw(writing, &listening, sitting, now)
    })
}

/// Gives back the places of sittings that have been idle for longer than the plan allows.
fn give_back_idle(
    writing: &Writing<'_>,
    listening: &Listening,
    now: Now,
) -> Result<(), ListeningError> {
    let idle_ms = i64::from(listening.plan.sitting.give_back_minutes) * 60_000;
    for (sitting, places) in writing.give_back_idle(listening.round.id, now.ms() - idle_ms)? {
        log_moved(writing, "places given back", sitting.stream, &places, now)?;
    }
    Ok(())
}

/// Logs what has become of places, by their names; nothing if there are none.
pub(super) fn log_moved(
    writing: &Writing<'_>,
    kind: &str,
    stream: u64,
    places: &[PresentationId],
    now: Now,
) -> Result<(), ListeningError> {
    if !places.is_empty() {
        let body = json!({"sitting": stream, "places": places});
        log::append(writing, now, kind, &body)?;
    }
    Ok(())
}

fn draw(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let candidates = candidates(writing, listening, &tokens)?;
    let mut chance = Seed::new(listening.round.seed).sitting(sitting.stream);
    let plan = &listening.plan;
    let places = size(plan.sitting.tokens);
    let planned = plan.listeners.judgements_per_token;
    let main = chosen(&candidates, places, planned, &mut chance);
    if main.is_empty() {
        course::end(writing, &listening.enrolment.code, sitting, now)?;
        return Ok(());
    }
    let unheard = unheard(writing, listening, &tokens)?;
    let slots = order(listening, &tokens, &unheard, &main, &mut chance)?;
    let by_number = by_number(&tokens);
    let slots: Vec<_> = slots
        .iter()
        .filter_map(|slot| Some((slot.kind, *by_number.get(&slot.token)?)))
        .collect();
    let first = next_place(&writing.presentations_of(sitting.id)?);
    add_places(writing, listening, sitting.into(), first, &slots, now)
}

/// The words that are not scored and were not asked of this listener in an earlier sitting.
fn unheard<'t>(
    writing: &Writing<'_>,
    listening: &Listening,
    tokens: &'t [RoundTokenRow],
) -> Result<Vec<&'t RoundTokenRow>, ListeningError> {
    let mut heard = BTreeSet::new();
    for sitting in writing.sittings_of(listening.enrolment.id)? {
        let places = writing.presentations_of(sitting.id)?;
        let asked = places
            .iter()
            .filter(|place| place.kind != PresentationKind::Example);
        heard.extend(asked.map(|place| place.token));
    }
    Ok(tokens
        .iter()
        .filter(|token| token.stratum.is_none() && token.in_use && !heard.contains(&token.id))
        .collect())
}

fn chosen(
    candidates: &[Candidate],
    places: usize,
    planned: u32,
    chance: &mut Chance,
) -> Vec<Candidate> {
    let mut numbers = blinding::allocate(candidates, places, planned, chance);
    numbers.sort_unstable();
    candidates
        .iter()
        .filter(|one| numbers.binary_search(&one.token).is_ok())
        .copied()
        .collect()
}

fn order(
    listening: &Listening,
    tokens: &[RoundTokenRow],
    unheard: &[&RoundTokenRow],
    main: &[Candidate],
    chance: &mut Chance,
) -> Result<Vec<Slot>, ListeningError> {
    let sitting = &listening.plan.sitting;
    let words = words(tokens);
    let mut extras = |use_: Use, places: u32| {
        let mut all: Vec<_> = unheard
            .iter()
            .filter(|token| token.use_ == use_)
            .map(|token| Extra {
                token: token.number,
                child: None,
                word: words.get(token.word.text().as_str()).copied(),
            })
            .collect();
        chance.shuffle(&mut all);
        all.truncate(size(places));
        all
    };
    let checks = extras(Use::Check, sitting.checks);
    let warm_ups = extras(Use::WarmUp, sitting.warm_up);
    let practice = extras(Use::Practice, sitting.practice);
    let design = SittingDesign {
        repeats: listening.plan.repeats_among(main.len()),
        repeat_distance: size(sitting.repeat_distance),
    };
    blinding::order(main, &checks, &warm_ups, &practice, &design, chance)
        .map_err(|error| AppError::Unreadable(error.to_string()).into())
}

/// Every scored token as this listener stands to it, in bare numbers.
fn candidates(
    writing: &Writing<'_>,
    listening: &Listening,
    tokens: &[RoundTokenRow],
) -> Result<Vec<Candidate>, ListeningError> {
    let words = words(tokens);
    let standings: BTreeMap<_, _> = writing
        .standings(listening.round.id, listening.enrolment.listener)?
        .into_iter()
        .map(|standing| (standing.token, standing))
        .collect();
    let mut children: BTreeMap<ChildId, u32> = BTreeMap::new();
    let mut phases: BTreeMap<&str, u32> = BTreeMap::new();
    Ok(tokens
        .iter()
        .filter_map(|token| {
            let standing = standings.get(&token.id)?;
            let n_children = count(children.len());
            let n_phases = count(phases.len());
            Some(Candidate {
                token: token.number,
                stratum: token.stratum?,
                phase: *phases.entry(token.phase.as_deref()?).or_insert(n_phases),
                child: *children.entry(token.child?).or_insert(n_children),
                word: words.get(token.word.text().as_str()).copied()?,
                committed: standing.committed,
                may_hear: standing.may_hear,
            })
        })
        .collect())
}

/// A bare number for each word.
fn words(tokens: &[RoundTokenRow]) -> BTreeMap<String, u32> {
    let mut words = BTreeMap::new();
    for token in tokens {
        let next = count(words.len());
        words.entry(token.word.text()).or_insert(next);
    }
    words
}

fn by_number(tokens: &[RoundTokenRow]) -> BTreeMap<u32, &RoundTokenRow> {
    tokens.iter().map(|token| (token.number, token)).collect()
}

fn next_place(places: &[PresentationRow]) -> u32 {
    places.iter().map(|place| place.place).max().unwrap_or(0) + 1
}

/// Reserves places, each under a new random name, and logs them.
fn add_places(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: Sitting,
    first: u32,
    slots: &[(PresentationKind, &RoundTokenRow)],
    now: Now,
) -> Result<(), ListeningError> {
    let mut rows = Vec::with_capacity(slots.len());
    for ((kind, token), place) in slots.iter().zip(first..) {
        let new = NewPresentation {
            id: PresentationId::new(secret::presentation_id()),
            token: token.id,
            place,
            kind: *kind,
            salt: secret::salt(),
        };
        writing.add_presentation(sitting.id, &new)?;
        let digest = place_digest(&new.salt, token.number, place, *kind)?;
        rows.push(json!({"presentation": new.id, "row": digest}));
    }
    let body = json!({
        "listener": listening.enrolment.code,
        "number": sitting.number,
        "sitting": sitting.stream,
        "places": rows,
    });
    log::append(writing, now, "places reserved", &body)?;
    Ok(())
}

/// What the log says of a place: a salted digest of which token it plays, as what, and when.
pub(in crate::app) fn place_digest(
    salt: &Salt,
    token_number: u32,
    place: u32,
    kind: PresentationKind,
) -> Result<Digest, AppError> {
    let value = json!({"token": token_number, "place": place, "kind": kind});
    Ok(seal::commit(salt, &log::canonical(&value)?))
}

/// Takes up a sitting whose places went back: each place is reserved again where the rule of
/// allocation still lets it; for every one that is lost another word is drawn, at the end.
pub(super) fn take_up_again(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<(), ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let planned = listening.plan.listeners.judgements_per_token;
    let (mut kept, mut dropped, mut lost) = (Vec::new(), Vec::new(), 0);
    let mut candidates = candidates(writing, listening, &tokens)?;
    for place in writing.presentations_of(sitting.id)? {
        if place.state != PresentationState::Returned {
            continue;
        }
        let number = tokens
            .iter()
            .find(|token| token.id == place.token)
            .map(|token| token.number);
        if number.is_some_and(|number| may_take(&candidates, number, planned)) {
            writing.move_presentation(place.id, PresentationState::Reserved, None)?;
            kept.push(place.id);
            let taken = candidates.iter_mut().find(|one| number == Some(one.token));
            if let Some(taken) = taken {
                taken.committed += 1;
            }
        } else {
            lost += 1;
            writing.move_presentation(place.id, PresentationState::Dropped, None)?;
            dropped.push(place.id);
            dropped.extend(drop_its_repeat(writing, &place)?);
        }
    }
    log_moved(writing, "places taken up", sitting.stream, &kept, now)?;
    log_moved(writing, "places dropped", sitting.stream, &dropped, now)?;
    writing.touch_sitting(sitting.id, now.ms())?;
    let first = next_place(&writing.presentations_of(sitting.id)?);
    // A stream of its own for what is drawn anew, told apart by the first of the new places.
    let stream = sitting.stream | (u64::from(first) << 32);
    let mut chance = Seed::new(listening.round.seed).sitting(stream);
    let main = chosen(&candidates, lost, planned, &mut chance);
    let design = SittingDesign {
        repeats: 0,
        repeat_distance: 0,
    };
    let slots = blinding::order(&main, &[], &[], &[], &design, &mut chance)
        .map_err(|error| AppError::Unreadable(error.to_string()))?;
    let by_number = by_number(&tokens);
    let slots: Vec<_> = slots
        .iter()
        .filter_map(|slot| Some((slot.kind, *by_number.get(&slot.token)?)))
        .collect();
    if slots.is_empty() {
        return Ok(());
    }
    add_places(writing, listening, sitting.into(), first, &slots, now)
}

/// Whether the rule of allocation lets a place go back to its own token: it still needs a
/// judgement, and none of its stratum that this listener may hear has fewer.
fn may_take(candidates: &[Candidate], token: u32, planned: u32) -> bool {
    candidates
        .iter()
        .find(|one| one.token == token)
        .is_some_and(|wanted| {
            wanted.committed < planned
                && candidates
                    .iter()
                    .filter(|other| other.stratum == wanted.stratum && other.may_hear)
                    .all(|other| other.committed >= wanted.committed)
        })
}

/// Drops the repeat that would have come after a main place; says which that was.
pub(super) fn drop_its_repeat(
    writing: &Writing<'_>,
    place: &PresentationRow,
) -> Result<Option<PresentationId>, ListeningError> {
    let places = writing.presentations_of(place.sitting)?;
    let repeat = places.iter().find(|other| {
        place.kind == PresentationKind::Main
            && other.token == place.token
            && other.kind == PresentationKind::Repeat
            && other.state == PresentationState::Reserved
    });
    if let Some(repeat) = repeat {
        writing.move_presentation(repeat.id, PresentationState::Dropped, None)?;
    }
    Ok(repeat.map(|repeat| repeat.id))
}

fn size(count: u32) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}

fn count(size: usize) -> u32 {
    u32::try_from(size).unwrap_or(u32::MAX)
}
