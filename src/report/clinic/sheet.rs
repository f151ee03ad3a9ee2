//! The whole page of one child, from the findings of the latest round in which she was heard.

use std::collections::BTreeSet;

use super::super::chart;
use super::super::chart::Format;
use super::super::chart::Graph;
use super::super::page::children;
use super::super::page::graphs;
use super::super::page::graphs::Days;
use super::super::page::over_rounds;
use super::super::table::Table;
use super::super::tables;
use super::beginning;
use super::beginning::Heard;
use super::heard;
use super::lines;
use super::mind;
use super::sentence;
use super::told::Told;
use crate::analysis::ChangeFinding;
use crate::analysis::PlacedChangeFinding;
use crate::analysis::RoundFindings;
use crate::analysis::RoundsFinding;
use crate::analysis::SessionFinding;
use crate::analysis::Words;
use crate::study::Phase;
use crate::study::Use;

/// One line under the graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What it is about.
    pub about: &'static str,
    /// What is said.
    pub said: String,
    /// What to do, where it is something to keep in mind.
    pub advice: Option<&'static str>,
}

/// One child's page.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildSheet {
    /// Her code.
    pub child: String,
    /// Her way of treating.
    pub cohort: Option<String>,
    /// The study.
    pub study: String,
    /// The sound under treatment.
    pub target: String,
    /// The round, and over which rounds the figures go.
    pub rounds: String,
    /// The verdict: a sign that never stands alone, and words.
    pub sign: &'static str,
    /// The verdict in words.
    pub headline: &'static str,
    /// What changed, in one sentence.
    pub sentence: String,
    /// The graph.
    pub chart: String,
    /// The same for a phone.
    pub narrow_chart: String,
    /// What its band and its signs stand for.
    pub key: String,
    /// How sure the sentence is, and what would settle it.
    pub sure: Vec<Line>,
    /// What to keep in mind: the warnings of the report that concern her.
    pub mind: Vec<Line>,
    /// The lines under it.
    pub lines: Vec<Line>,
    /// Her sessions, for whoever does not see the graph.
    pub sessions: Table,
    /// From where all this comes: the round, when it closed, its seal.
    pub source: String,
    /// Whether a program answered for the listeners.
    pub simulated: bool,
}

/// The page of a child; nothing where no session of hers was heard in the round or in those before it.
pub fn child_sheet(found: &RoundFindings, child: &str) -> Option<ChildSheet> {
    let scale = Scale::of(found, child);
    let heard = scale.heard(child);
    if heard.is_empty() {
        return None;
    }
    let told = scale.told(found, child);
    let cohort = children::codes(found, Use::Scored)
        .into_iter()
        .find(|(code, _)| code == child)
        .and_then(|(_, cohort)| cohort);
    let [from, to] = [&found.plan.contrast.from, &found.plan.contrast.to];
    let (graph, band) = (scale.graph(found, child, cohort.clone()), scale.band());
    let drawn = |id: &str, format: Format| {
        let graph = graph.as_ref();
        graph.map_or_else(String::new, |graph| {
            chart::child(id, graph, band.as_ref(), format)
        })
    };
    Some(ChildSheet {
        child: child.to_owned(),
        study: found.study.name.clone(),
        target: found.study.target.clone(),
        rounds: scale.rounds(found),
        sign: children::sign(told.as_ref().map_or("cannot_tell", |told| told.verdict)),
        headline: told
            .as_ref()
            .map_or("Cannot be told yet", sentence::headline),
        sentence: told.as_ref().map_or_else(
            || beginning::without_comparison(&heard, [from.as_str(), to.as_str()]),
            sentence::what_changed,
        ),
        chart: drawn("child", Format::WIDE),
        narrow_chart: drawn("child-narrow", Format::NARROW),
        key: lines::key(graph.as_ref(), band.as_ref()),
        sure: sure(told.as_ref()),
        mind: mind::in_mind(&found.warnings, child),
        lines: lines_of(found, child, &scale, told.as_ref(), &heard),
        sessions: scale.table(child),
        source: source(found),
        simulated: found.round.simulated,
        cohort,
    })
}

/// The change that the sealed plan is about, on the scale on which the child is shown.
pub(super) fn told_of(found: &RoundFindings, child: &str) -> Option<Told> {
    Scale::of(found, child).told(found, child)
}

/// On which scale a child is shown: that of all rounds where it says something of her change, else that of the round.
enum Scale<'a> {
    Joined(&'a RoundsFinding),
    Own(&'a RoundFindings),
}

impl<'a> Scale<'a> {
    fn of(found: &'a RoundFindings, child: &str) -> Self {
        let joined = found.over_rounds.as_ref();
        let own = sessions(found, child, Words::All).count();
        let fits = |over: &&RoundsFinding| {
            let placed = over.sessions.iter().filter(|s| s.child == child).count();
            let compares = over.changes.iter().any(|change| change.child == child);
            let own_compares = change(found, child, Words::All).is_some();
            placed > 0 && placed >= own && (compares || !own_compares)
        };
        joined.filter(fits).map_or(Self::Own(found), Self::Joined)
    }

    fn listeners(&self, found: &RoundFindings, child: &str) -> String {
        match self {
            Self::Joined(over) => heard::over_rounds(over, child),
            Self::Own(_) => heard::in_round(found, child),
        }
    }

    fn agreement(&self, found: &RoundFindings, child: &str) -> String {
        match self {
            Self::Joined(over) => heard::agreement_over_rounds(over, child),
            Self::Own(_) => heard::agreement_in_round(found),
        }
    }

    fn heard(&self, child: &str) -> Vec<Heard> {
        match self {
            Self::Joined(over) => over
                .sessions
                .iter()
                .filter(|session| session.child == child && !session.peer)
                .map(|session| Heard {
                    session: session.session,
                    phase: session.phase.clone(),
                    share: session.proportion_correct,
                    ci: Some(session.ci),
                })
                .collect(),
            Self::Own(found) => sessions(found, child, Words::All)
                .filter_map(|session| {
                    Some(Heard {
                        session: session.session,
                        phase: session.phase.clone(),
                        share: session.proportion_correct?,
                        ci: session.ci,
                    })
                })
                .collect(),
        }
    }

    fn told(&self, found: &RoundFindings, child: &str) -> Option<Told> {
        match self {
            Self::Joined(over) => {
                let change = over.changes.iter().find(|change| change.child == child);
                change.map(|change| placed(found, change))
            }
            Self::Own(_) => {
                let words: Words = found.plan.contrast.words.into();
                let sealed = change(found, child, words);
                let change = sealed.or_else(|| change(found, child, Words::All));
                change.map(|change| within(found, change))
            }
        }
    }

    fn graph(&self, found: &RoundFindings, child: &str, cohort: Option<String>) -> Option<Graph> {
        match self {
            Self::Joined(over) => {
                let mut graphs = over_rounds::graphs(over).into_iter();
                let mut graph = graphs.find(|graph| graph.child == child)?;
                graph.beside = cohort;
                Some(graph)
            }
            Self::Own(_) => {
                let days = Days::of(&found.tokens);
                Some(graphs::graph(&found.outcome, child, cohort, &days))
            }
        }
    }

    fn band(&self) -> Option<chart::Band> {
        match self {
            Self::Joined(over) => placed_band(over),
            Self::Own(found) => graphs::band(&found.outcome),
        }
    }

    fn table(&self, child: &str) -> Table {
        match self {
            Self::Joined(over) => {
                let mut own = (*over).clone();
                own.sessions.retain(|session| session.child == child);
                tables::placed_sessions(&own).without("Child")
            }
            Self::Own(found) => {
                let own = found.outcome.sessions.iter();
                let mut table = tables::sessions(own.filter(|session| session.child == child))
                    .without("Child")
                    .without("Effective n");
                "Sessions".clone_into(&mut table.caption);
                table
            }
        }
    }

    fn rounds(&self, found: &RoundFindings) -> String {
        let round = &found.round.round;
        match (self, &found.over_rounds) {
            (Self::Joined(over), _) => format!(
                "All rounds up to {round}, each session where the listeners of round {} would have put it; the error of \
                 that is in every limit.",
                over.reference
            ),
            (Self::Own(_), Some(over)) => {
                let why = over.reasons.of("sessions").map_or_else(
                    || "the others tell less of this child".to_owned(),
                    str::to_owned,
                );
                format!("Round {round} alone: {why}.")
            }
            (Self::Own(_), None) => format!("Round {round}."),
        }
    }
}

fn source(found: &RoundFindings) -> String {
    let facts = &found.round;
    format!(
        "Round {}, closed on {}; seal {}…; Fair Hearing {}.",
        facts.round,
        facts.closed.get(..10).unwrap_or_default(),
        facts.seal.get(..12).unwrap_or_default(),
        found.program
    )
}

fn sessions<'a>(
    found: &'a RoundFindings,
    child: &'a str,
    words: Words,
) -> impl Iterator<Item = &'a SessionFinding> {
    let all = found.outcome.sessions.iter();
    all.filter(move |session| session.child == child && session.words == words && !session.peer)
}

fn change<'a>(found: &'a RoundFindings, child: &str, words: Words) -> Option<&'a ChangeFinding> {
    let mut changes = found.outcome.changes.iter();
    changes.find(|change| change.child == child && change.words == words)
}

fn within(found: &RoundFindings, change: &ChangeFinding) -> Told {
    let plan = &found.plan;
    Told::of(
        change,
        plan.contrast.smallest_change.get(),
        plan.analysis.confidence.level(),
    )
}

fn placed(found: &RoundFindings, change: &PlacedChangeFinding) -> Told {
    let plan = &found.plan;
    Told::placed(
        change,
        plan.contrast.smallest_change.get(),
        plan.analysis.confidence.level(),
    )
}

/// Where the peers lie on the one scale.
pub(super) fn placed_band(over: &RoundsFinding) -> Option<chart::Band> {
    let peers = over.sessions.iter().filter(|session| session.peer);
    graphs::band_of(peers.map(|session| session.proportion_correct).collect())
}

fn sure(told: Option<&Told>) -> Vec<Line> {
    lines([
        ("How sure", told.map(lines::how_sure)),
        (
            "What would settle it",
            told.and_then(lines::what_would_settle_it),
        ),
    ])
}

fn lines_of(
    found: &RoundFindings,
    child: &str,
    scale: &Scale<'_>,
    told: Option<&Told>,
    heard: &[Heard],
) -> Vec<Line> {
    let to = found.plan.contrast.to.as_str();
    let phases: Vec<&str> = found.study.phases.iter().map(Phase::as_str).collect();
    lines([
        ("Room for a rise", told.and_then(beginning::little_room)),
        ("Treated words", apart(found, child, Words::Treated)),
        ("Untreated words", apart(found, child, Words::Untreated)),
        ("Afterwards", beginning::maintenance(heard, &phases, to)),
        ("Typical peers", peers(scale, told)),
        (
            "What is not shown",
            Some(
                "Why the sound changed. Growing older, practice elsewhere and treatment look alike in one child."
                    .to_owned(),
            ),
        ),
        ("Listeners", Some(scale.listeners(found, child))),
        ("Agreement", Some(scale.agreement(found, child))),
        ("The words used", Some(words_used(found))),
    ])
}

/// Those of the lines on which there is something to say.
fn lines<const N: usize>(said: [(&'static str, Option<String>); N]) -> Vec<Line> {
    said.into_iter()
        .filter_map(|(about, said)| {
            Some(Line {
                about,
                said: said?,
                advice: None,
            })
        })
        .collect()
}

/// The change on treated or untreated words alone, in the round.
fn apart(found: &RoundFindings, child: &str, words: Words) -> Option<String> {
    let told = within(found, change(found, child, words)?);
    Some(sentence::what_changed(&told))
}

fn peers(scale: &Scale<'_>, told: Option<&Told>) -> Option<String> {
    let (codes, heard) = match scale {
        Scale::Joined(over) => {
            let peers = over.sessions.iter().filter(|session| session.peer);
            let codes: BTreeSet<&str> = peers.map(|session| session.child.as_str()).collect();
            (codes.len(), "in the same rounds")
        }
        Scale::Own(found) => (children::codes(found, Use::Peer).len(), "in the same round"),
    };
    let now = told.and_then(|told| told.means).map(|[_, after]| after);
    Some(lines::peers(codes, heard, &scale.band()?, now))
}

/// What the two answers mean, with the study's own words beside ours.
fn words_used(found: &RoundFindings) -> String {
    let own = |text: &Option<String>| {
        let text = text
            .as_deref()
            .map(str::trim)
            .filter(|text| !text.is_empty());
        text.map_or_else(String::new, |text| format!(" (on the button: “{text}”)"))
    };
    let texts = &found.plan.texts;
    format!(
        "“Heard as correct”{}: to somebody who does not know the child, {} was right in that one word. “Distorted”{}: to \
         that ear it sounded off. Neither word is a mark for the child.",
        own(&texts.correct),
        found.study.target,
        own(&texts.distorted),
    )
}
