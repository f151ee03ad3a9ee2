//! Drawing a sitting: which words this listener hears, in which order, under which names.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::json;

use super::ListeningError;
use super::between;
use super::course;
use super::entry::Listening;
use super::extras::Extras;
use super::extras::may_be_heard;
use super::extras::words;
use super::parts::Part;
use super::parts::Parts;
use super::screen;
use super::sound::Sound;
use super::stage;
use super::way;
use crate::app::AppError;
use crate::app::Now;
use crate::app::Workspace;
use crate::app::log;
use crate::app::secret;
use crate::blinding;
use crate::blinding::Candidate;
use crate::blinding::Chance;
use crate::blinding::Seed;
use crate::blinding::SittingDesign;
use crate::blinding::Slot;
use crate::seal;
use crate::seal::Digest;
use crate::store::ChildId;
use crate::store::NewPresentation;
use crate::store::PresentationRow;
use crate::store::PresentationState;
use crate::store::RoundTokenId;
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
    // Streams of the seed are dealt in the order in which sittings begin, each once.
    let stream = writing.last_stream(listening.round.id)? + 1;
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
    let mut tokens = writing.round_tokens(listening.round.id)?;
    let barred = writing.bars(listening.enrolment.listener)?;
    tokens.retain(|token| may_be_heard(token, &barred));
    let of_use = |use_| tokens.iter().filter(move |token| token.use_ == use_);
    let mut played: Vec<_> = of_use(Use::Example).collect();
    if played.is_empty() {
        played.extend(of_use(Use::Practice).chain(of_use(Use::WarmUp)).next());
    }
    let slots: Vec<_> = played
        .iter()
        .map(|token| (1, PresentationKind::Example, *token))
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

/// Notes that she has read what to judge, and draws the sitting. `told`: the part that she read of, by
/// its number.
///
/// # Errors
/// [`ListeningError::OutOfOrder`] before the sound check.
pub fn begin(
    workspace: &Workspace,
    cookie: &str,
    told: u32,
    now: Now,
) -> Result<(), ListeningError> {
    let cookie = cookie.to_owned();
    workspace.store().write(move |writing| {
        let listening = Listening::active(writing, &cookie, now)?;
        let enrolment = &listening.enrolment;
        if Sound::of(writing, &listening)? != Sound::Does {
            return Err(ListeningError::OutOfOrder);
        }
        let sittings = writing.sittings_of(enrolment.id)?;
        let sitting = sittings.last().ok_or(ListeningError::OutOfOrder)?;
        if sitting.ended_ms.is_some() || stage::is_begun(&writing.presentations_of(sitting.id)?) {
            return Ok(());
        }
        if enrolment.instructed_ms.is_none() {
            writing.note_step(enrolment.id, Step::Instructed, "", now.ms())?;
            let body = json!({"listener": enrolment.code});
            log::append(writing, now, "instructed", &body)?;
        }
        give_back_idle(writing, &listening, now)?;
        writing.touch_sitting(sitting.id, now.ms())?;
        if screen::look_between(writing, &listening, sitting, now)? {
            return Ok(());
        }
        draw(writing, &listening, sitting, now)?;
        between::note_told(writing, &listening, sitting, told, now)
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
    if main.is_empty() && sitting.number == 1 {
        // She has judged nothing: the sitting waits, for somebody may give places back.
        return Ok(());
    }
    if main.is_empty() {
        course::end(
            writing,
            &listening.enrolment.code,
            sitting,
            course::DONE,
            now,
        )?;
        return Ok(());
    }
    let heard = heard(writing, listening)?;
    let barred = writing.bars(listening.enrolment.listener)?;
    let mut extras = Extras::new(&tokens, &heard, &barred);
    if !practises(writing, listening, sitting, now)? {
        extras.leave_out(Use::Practice);
    }
    let parts = Parts::of(listening, sitting.number);
    let mut slots = Vec::new();
    for part in parts.iter() {
        let main = main_of(part, &main, &tokens);
        let ordered = order(listening, &parts, part, &mut extras, &main, &mut chance)?;
        slots.extend(placed(part, &ordered, &tokens));
    }
    let first = next_place(&writing.presentations_of(sitting.id)?);
    add_places(writing, listening, sitting.into(), first, &slots, now)
}

/// Whether a sitting begins with practice: the first does, a later one after a long absence.
fn practises(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    now: Now,
) -> Result<bool, ListeningError> {
    let answered = writing.answer_times(listening.enrolment.id)?;
    let away = |last_ms: &i64| way::is_long_ago(&listening.plan, *last_ms, now);
    Ok(sitting.number == 1 || answered.last().is_some_and(away))
}

/// The main words of a part.
pub(super) fn main_of(
    part: Part<'_>,
    main: &[Candidate],
    tokens: &[RoundTokenRow],
) -> Vec<Candidate> {
    let by_number = by_number(tokens);
    main.iter()
        .filter(|one| {
            by_number
                .get(&one.token)
                .is_some_and(|token| part.takes(token))
        })
        .copied()
        .collect()
}

/// A place to be: its part, what it is for, and its word.
pub(super) type Placed<'t> = (u32, PresentationKind, &'t RoundTokenRow);

pub(super) fn placed<'t>(
    part: Part<'_>,
    slots: &[Slot],
    tokens: &'t [RoundTokenRow],
) -> Vec<Placed<'t>> {
    let by_number = by_number(tokens);
    slots
        .iter()
        .filter_map(|slot| Some((part.block, slot.kind, *by_number.get(&slot.token)?)))
        .collect()
}

/// Draws practice words for a part once more, those that were not heard yet first. Says at which
/// place they begin.
pub(super) fn practise_again(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    part: Part<'_>,
    now: Now,
) -> Result<u32, ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let heard = heard(writing, listening)?;
    let first = next_place(&writing.presentations_of(sitting.id)?);
    let mut chance = chance_from(listening, sitting, first);
    let barred = writing.bars(listening.enrolment.listener)?;
    let mut extras = Extras::new(&tokens, &heard, &barred);
    let practice = extras.take(
        part,
        Use::Practice,
        listening.plan.sitting.practice,
        &mut chance,
    );
    let slots: Vec<_> = practice
        .iter()
        .map(|extra| Slot {
            kind: PresentationKind::Practice,
            token: extra.token,
        })
        .collect();
    let slots = placed(part, &slots, &tokens);
    add_places(writing, listening, sitting.into(), first, &slots, now)?;
    Ok(first)
}

/// A stream of its own for what is drawn while a sitting goes on, told apart by the first of the
/// new places.
pub(super) fn chance_from(listening: &Listening, sitting: &SittingRow, first: u32) -> Chance {
    let stream = sitting.stream | (u64::from(first) << 32);
    Seed::new(listening.round.seed).sitting(stream)
}

/// The words that were asked of this listener already.
pub(super) fn heard(
    writing: &Writing<'_>,
    listening: &Listening,
) -> Result<BTreeSet<RoundTokenId>, ListeningError> {
    let mut heard = BTreeSet::new();
    for sitting in writing.sittings_of(listening.enrolment.id)? {
        let places = writing.presentations_of(sitting.id)?;
        let asked = places
            .iter()
            .filter(|place| place.kind != PresentationKind::Example);
        heard.extend(asked.map(|place| place.token));
    }
    Ok(heard)
}

pub(super) fn chosen(
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

/// The order of a part: its own practice, and its share of the checks and warm-ups.
fn order(
    listening: &Listening,
    parts: &Parts<'_>,
    part: Part<'_>,
    extras: &mut Extras<'_>,
    main: &[Candidate],
    chance: &mut Chance,
) -> Result<Vec<Slot>, ListeningError> {
    if main.is_empty() {
        return Ok(Vec::new());
    }
    let sitting = &listening.plan.sitting;
    let of_all = |places: u32| {
        let n_parts = count(parts.count());
        places / n_parts + u32::from(part.block <= places % n_parts)
    };
    let checks = extras.take(part, Use::Check, of_all(sitting.checks), chance);
    let warm_ups = extras.take(part, Use::WarmUp, of_all(sitting.warm_up), chance);
    let practice = extras.take(part, Use::Practice, sitting.practice, chance);
    let design = SittingDesign {
        repeats: listening.plan.repeats_among(main.len()),
        repeat_distance: size(sitting.repeat_distance),
    };
    blinding::order(main, &checks, &warm_ups, &practice, &design, chance)
        .map_err(|error| AppError::Unreadable(error.to_string()).into())
}

/// Every scored token as this listener stands to it, in bare numbers.
pub(super) fn candidates(
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

pub(super) fn by_number(tokens: &[RoundTokenRow]) -> BTreeMap<u32, &RoundTokenRow> {
    tokens.iter().map(|token| (token.number, token)).collect()
}

pub(super) fn next_place(places: &[PresentationRow]) -> u32 {
    places.iter().map(|place| place.place).max().unwrap_or(0) + 1
}

/// Reserves places, each under a new random name, and logs them; none is no act.
pub(super) fn add_places(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: Sitting,
    first: u32,
    slots: &[Placed<'_>],
    now: Now,
) -> Result<(), ListeningError> {
    if slots.is_empty() {
        return Ok(());
    }
    let mut rows = Vec::with_capacity(slots.len());
    for ((block, kind, token), place) in slots.iter().zip(first..) {
        let new = NewPresentation {
            id: PresentationId::new(secret::presentation_id()),
            token: token.id,
            place,
            block: *block,
            kind: *kind,
            salt: secret::salt(),
        };
        writing.add_presentation(sitting.id, &new)?;
        let digest = place_digest(&new, token.number)?;
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

/// What the log says of a place: a salted digest of which token it plays, as what, and when. The
/// first part of a sitting is not told.
pub(in crate::app) fn place_digest(
    place: &NewPresentation,
    token_number: u32,
) -> Result<Digest, AppError> {
    let mut value = json!({"token": token_number, "place": place.place, "kind": place.kind});
    if let Some(fields) = value.as_object_mut().filter(|_| place.block != 1) {
        fields.insert("block".to_owned(), json!(place.block));
    }
    Ok(seal::commit(&place.salt, &log::canonical(&value)?))
}

/// Reserves another place for a word that was cut short: at the end of its part of the sitting, under a new name.
pub(super) fn bring_back(
    writing: &Writing<'_>,
    listening: &Listening,
    sitting: &SittingRow,
    place: &PresentationRow,
    now: Now,
) -> Result<(), ListeningError> {
    let tokens = writing.round_tokens(listening.round.id)?;
    let Some(token) = tokens.iter().find(|token| token.id == place.token) else {
        return Ok(());
    };
    let end = next_place(&writing.presentations_of(sitting.id)?);
    let slot = [(place.block, place.kind, token)];
    add_places(writing, listening, sitting.into(), end, &slot, now)
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
