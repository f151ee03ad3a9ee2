//! Several rounds on one scale: whether their panels hear alike, every session as the first panel would have heard it,
//! and each child's change over all rounds.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use jiff::civil::Date;

use super::Joined;
use super::RoundPanelFinding;
use super::Words;
use super::changes::ENOUGH_SESSIONS;
use super::cohorts::Member;
use super::cohorts::side_by_side;
use super::compared::Compared;
use super::joined::View;
use super::randomised::Scored;
use super::randomised::Scores;
use super::randomised::randomised;
use super::rounds_finding::LinkedRound;
use super::rounds_finding::PlacedSessionFinding;
use super::rounds_finding::RoundsFinding;
use crate::analysis::Reasons;
use crate::analysis::RoundTables;
use crate::analysis::kept_listeners;
use crate::analysis::outcome_options;
use crate::stats::interval::Design;
use crate::stats::interval::HeardSession;
use crate::stats::interval::Linking;
use crate::stats::interval::Placed;
use crate::stats::interval::Reading;
use crate::stats::interval::Scale;
use crate::stats::interval::SessionInterval;
use crate::stats::interval::linkings;
use crate::study::Invalid;
use crate::study::Labels;
use crate::study::PresentationKind;
use crate::study::Use;
use crate::study::record::RoundRecord;

/// Places the sessions of several unlocked rounds on the scale of the first, as the plan of the last one compares.
///
/// `heard`: oldest first. Nothing where there is one round only. Where the panels share too few words, nothing is placed,
/// and the reasons say how many would do.
///
/// # Errors
/// [`Invalid`] where tables and plan of a round do not fit each other.
pub fn over_rounds(
    heard: &[(&RoundRecord, &RoundTables)],
) -> Result<Option<RoundsFinding>, Invalid> {
    let [_, .., (last, _)] = heard else {
        return Ok(None);
    };
    let mut names = Names::default();
    let panels = heard
        .iter()
        .enumerate()
        .map(|(place, (record, tables))| Panel::of(place, record, tables, last, &mut names))
        .collect::<Result<Vec<_>, Invalid>>()?;
    let level = last.plan.analysis.confidence.level();
    let bound = last.plan.contrast.linking_bound();
    let links = linkings(
        &panels.iter().map(|panel| &panel.heard).collect::<Vec<_>>(),
        bound,
        level,
    );
    let mut reasons = Reasons::new();
    let rounds = linked_rounds(&panels, &links, &mut reasons);
    let mut found = RoundsFinding {
        reference: panels
            .first()
            .map(|panel| panel.round.clone())
            .unwrap_or_default(),
        panels: heard
            .iter()
            .map(|(record, tables)| RoundPanelFinding::of(record, tables))
            .collect::<Result<_, _>>()?,
        rounds,
        sessions: Vec::new(),
        changes: Vec::new(),
        cohorts: Vec::new(),
        cohort_test: None,
        randomisation: None,
        reasons,
    };
    if found.reasons.of("sessions").is_none()
        && let Some(scale) = Scale::of(&links)
    {
        let cohorts = cohorts_of(&panels);
        place(&mut found, panels, scale, last, &names);
        compare_cohorts(&mut found, &cohorts, last);
        test_the_draw(&mut found, last);
    }
    Ok(Some(found))
}

/// The cohort of each treated child.
fn cohorts_of(panels: &[Panel]) -> BTreeMap<String, String> {
    let sessions = panels.iter().flat_map(|panel| &panel.sessions);
    sessions
        .filter(|(_, whose)| !whose.peer)
        .filter_map(|(_, whose)| Some((whose.child.clone(), whose.cohort.clone()?)))
        .collect()
}

/// The cohorts by the changes over all rounds, in the order of the study.
fn compare_cohorts(
    found: &mut RoundsFinding,
    cohort_of: &BTreeMap<String, String>,
    last: &RoundRecord,
) {
    let known = last.settings.cohorts.iter().map(ToString::to_string);
    let labels: Vec<String> = known
        .filter(|label| cohort_of.values().any(|of| of == label))
        .collect();
    if labels.is_empty() {
        return;
    }
    let members = found.changes.iter().filter_map(|change| {
        let cohort = cohort_of.get(&change.child)?;
        let cohort = labels.iter().position(|label| label == cohort)?;
        let member = Member {
            cohort,
            change: change.difference,
        };
        Some((change.child.clone(), member))
    });
    let options = outcome_options(last);
    let compared = side_by_side(&members.collect(), &labels, &options, &mut found.reasons);
    found.cohorts = compared.cohorts;
    found.cohort_test = compared.test;
    if let Some(why) = &last.not_random {
        found.reasons.say("cohort_test", why);
    }
}

/// What was drawn within children, tested on the sessions of all rounds.
fn test_the_draw(found: &mut RoundsFinding, last: &RoundRecord) {
    let Some(assignment) = &last.assignment else {
        return;
    };
    if let Some(why) = &last.not_random {
        found.reasons.say("randomisation", why);
        return;
    }
    if assignment.is_of_words() {
        let why = "sets of words are compared within a round, and sessions are placed as wholes";
        found.reasons.say("randomisation", why);
        return;
    }
    let contrast = &last.plan.contrast;
    let (from, to) = (contrast.from.as_str(), contrast.to.as_str());
    let placed = &found.sessions;
    let scores = |child: &str| -> Vec<Scores> {
        let own = placed.iter().filter(|s| s.child == child && !s.peer);
        own.filter(|s| s.phase == from || s.phase == to)
            .map(|s| Scores {
                number: s.session,
                later: s.phase == to,
                score: s.proportion_correct,
                condition: s.condition.clone(),
            })
            .collect()
    };
    let (mut children, mut conditions) = (Labels::default(), Labels::default());
    for session in placed {
        children.number(&session.child);
        session.condition.iter().for_each(|condition| {
            conditions.number(condition);
        });
    }
    let seed = outcome_options(last).seed;
    let scored = Scored::known(scores, children.names(), conditions.names(), seed);
    found.randomisation = randomised(&scored, assignment, &mut found.reasons);
}

/// Numbers that hold for all rounds.
#[derive(Default)]
struct Names {
    children: Labels,
    phases: Labels,
    words: Labels,
}

/// What one round's panel heard.
struct Panel {
    round: String,
    sessions: Vec<(HeardSession, Whose)>,
    /// Judgements `correct` and all judgements of each token, by its audio.
    heard: BTreeMap<String, [f64; 2]>,
}

/// What a page says of a session.
#[derive(Clone, PartialEq)]
struct Whose {
    child: String,
    number: u32,
    phase: String,
    peer: bool,
    cohort: Option<String>,
    condition: Option<String>,
    date: Option<Date>,
    judgements: usize,
}

impl Panel {
    fn of(
        place: usize,
        record: &RoundRecord,
        tables: &RoundTables,
        last: &RoundRecord,
        names: &mut Names,
    ) -> Result<Self, Invalid> {
        let kept = kept_listeners(record, tables)?;
        let weights: Vec<f64> = tables
            .ratings
            .raters
            .names()
            .iter()
            .map(|name| f64::from(u8::from(kept.contains(name))))
            .collect();
        let joined = Joined::new(&tables.ratings, &tables.tokens)?;
        let words: Words = last.plan.contrast.words.into();
        let view = View::new(&joined, words, &weights);
        let mut sessions = Vec::new();
        if let Ok(round) = &view.round {
            for (number, session) in joined.sessions.iter().enumerate() {
                let tokens = view.tokens_of(number);
                let level = last.plan.analysis.confidence.level();
                let (Ok(interval), Ok(unshared_error)) =
                    (round.session(number, level), round.unshared_error(number))
                else {
                    continue;
                };
                let rows = tokens
                    .iter()
                    .filter_map(|heard| tables.tokens.rows.get(heard.token as usize));
                let mut said: BTreeSet<u32> = BTreeSet::new();
                let (mut date, mut cohort) = (None, None);
                for row in rows {
                    date = date.or(row.date);
                    cohort = cohort.or(row.cohort);
                    said.extend(
                        row.word
                            .map(|word| names.words.number(tables.tokens.words.name(word))),
                    );
                }
                let whose = Whose {
                    child: tables.tokens.children.name(session.child).to_owned(),
                    number: session.number,
                    phase: tables.tokens.phases.name(session.phase).to_owned(),
                    peer: session.peer,
                    cohort: cohort.map(|cohort| tables.tokens.cohorts.name(cohort).to_owned()),
                    condition: view.condition_of(number).map(str::to_owned),
                    date,
                    judgements: tokens.iter().map(|heard| heard.judgements).sum(),
                };
                let heard = HeardSession {
                    panel: place,
                    child: names.children.number(&whose.child),
                    phase: names.phases.number(&whose.phase),
                    tokens: tokens.len() as f64,
                    words: said.into_iter().collect(),
                    interval,
                    unshared_error,
                    components: *round.components(),
                };
                sessions.push((heard, whose));
            }
        }
        Ok(Self {
            round: record.facts.round.clone(),
            sessions,
            heard: shares(record, tables, &kept),
        })
    }
}

/// The judgements of each scored token by the kept listeners, links among them, by the token's audio.
fn shares(
    record: &RoundRecord,
    tables: &RoundTables,
    kept: &BTreeSet<String>,
) -> BTreeMap<String, [f64; 2]> {
    let audio: BTreeMap<&str, &str> = record
        .tokens
        .iter()
        .filter(|token| token.key.use_ == Use::Scored || token.key.use_ == Use::Peer)
        .map(|token| (token.name.as_str(), token.audio_sha256.as_str()))
        .collect();
    let mut shares: BTreeMap<String, [f64; 2]> = BTreeMap::new();
    let ratings = &tables.ratings;
    for rating in ratings.of_kind(PresentationKind::Main) {
        let Some(audio) = audio.get(ratings.items.name(rating.item)) else {
            continue;
        };
        if !kept.contains(ratings.raters.name(rating.rater)) {
            continue;
        }
        let [correct, judged] = shares.entry((*audio).to_owned()).or_default();
        *correct += f64::from(u8::from(ratings.values.name(rating.value) == "correct"));
        *judged += 1.0;
    }
    shares
}

/// What is said of each round after the first, and in `reasons` of the first that cannot be placed.
fn linked_rounds(panels: &[Panel], links: &[Linking], reasons: &mut Reasons) -> Vec<LinkedRound> {
    let mut said = Vec::new();
    for (panel, linking) in panels.iter().zip(links).skip(1) {
        if !linking.enough {
            let links = linking.links;
            let why = format!(
                "round {} shares {links} words with earlier rounds, too few to put it on one scale; about {} would do",
                panel.round,
                linking.links_needed.max(links + 1),
            );
            reasons.say("sessions", &why);
            reasons.say("changes", why);
        }
        for (other, leniency) in linking.beside.iter().filter(|(_, l)| l.links > 0) {
            let beside = panels
                .get(*other)
                .map(|panel| panel.round.clone())
                .unwrap_or_default();
            said.push(LinkedRound::new(&panel.round, &beside, leniency, linking));
        }
    }
    said
}

/// Puts all sessions on the scale and compares them as the plan says.
fn place(
    found: &mut RoundsFinding,
    panels: Vec<Panel>,
    scale: Scale,
    last: &RoundRecord,
    names: &Names,
) {
    let rounds: Vec<String> = panels.iter().map(|panel| panel.round.clone()).collect();
    let sessions = each_once(panels);
    let first_day = sessions.iter().filter_map(|(_, whose)| whose.date).min();
    let (heard, whose): (Vec<HeardSession>, Vec<Whose>) = sessions.into_iter().unzip();
    let placed = Placed::new(heard.clone(), scale);
    let level = last.plan.analysis.confidence.level();
    for (number, (session, whose)) in heard.iter().zip(&whose).enumerate() {
        let Ok(on_scale) = placed.session(number, level) else {
            continue;
        };
        let day = whose
            .date
            .zip(first_day)
            .and_then(|(date, first)| u32::try_from((date - first).get_days()).ok());
        let SessionInterval {
            estimate,
            low,
            high,
            ..
        } = session.interval;
        found.sessions.push(PlacedSessionFinding {
            child: whose.child.clone(),
            session: whose.number,
            phase: whose.phase.clone(),
            day,
            round: rounds.get(session.panel).cloned().unwrap_or_default(),
            peer: whose.peer,
            condition: whose.condition.clone(),
            tokens: session.words.len().max(1),
            as_heard: estimate,
            as_heard_ci: [low, high],
            proportion_correct: on_scale.estimate,
            ci: [on_scale.low, on_scale.high],
        });
    }
    let contrast = &last.plan.contrast;
    for child in names.children.names() {
        let side = |phase: &str| -> Vec<usize> {
            let own = whose
                .iter()
                .enumerate()
                .filter(|(_, w)| w.child == *child && !w.peer);
            own.filter(|(_, w)| w.phase == phase)
                .map(|(number, _)| number)
                .collect()
        };
        let from = side(contrast.from.as_str());
        let mut to = side(contrast.to.as_str());
        if let Some(last) = contrast.last.and_then(|last| usize::try_from(last).ok()) {
            to.drain(..to.len().saturating_sub(last));
        }
        if from.is_empty() || to.is_empty() {
            continue;
        }
        let reading = if from.len().min(to.len()) >= ENOUGH_SESSIONS {
            Reading::Child
        } else {
            Reading::TheseDays
        };
        let compared = Compared {
            child,
            placed: &placed,
            from: &from,
            to: &to,
            reading,
            design: design(&heard, &whose, [&from, &to]),
        };
        found.changes.extend(compared.finding(last));
    }
}

/// The design by which a change was seen: the means of its sessions.
fn design(heard: &[HeardSession], whose: &[Whose], sides: [&[usize]; 2]) -> Design {
    let compared = || sides.into_iter().flatten();
    let tokens: f64 = compared()
        .filter_map(|place| heard.get(*place))
        .map(|session| session.tokens)
        .sum();
    let judgements: usize = compared()
        .filter_map(|place| whose.get(*place))
        .map(|session| session.judgements)
        .sum();
    let sessions = sides.map(|side| side.len() as f64);
    Design {
        listeners: judgements as f64 / tokens,
        words: tokens / sessions.iter().sum::<f64>(),
        sessions,
    }
}

/// Each session once, where it was heard most fully; the sessions of a child in the order of time.
fn each_once(panels: Vec<Panel>) -> Vec<(HeardSession, Whose)> {
    let mut best: BTreeMap<(String, u32), (HeardSession, Whose)> = BTreeMap::new();
    for (heard, whose) in panels.into_iter().flat_map(|panel| panel.sessions) {
        let key = (whose.child.clone(), whose.number);
        if best
            .get(&key)
            .is_none_or(|(known, _)| known.tokens < heard.tokens)
        {
            best.insert(key, (heard, whose));
        }
    }
    best.into_values().collect()
}
