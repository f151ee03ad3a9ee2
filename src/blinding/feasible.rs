//! Whether a plan can be met, before it is sealed.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fmt;

use super::Candidate;
use super::flow::Flow;
use crate::study::PresentationKind;

/// A round as planned: what the listeners, between them, have to hear.
#[derive(Debug, Clone, Copy)]
pub struct RoundDesign<'a> {
    /// Every main token; `committed` and `may_hear` play no part.
    pub tokens: &'a [Candidate],
    /// Judgements wanted of each token.
    pub planned: u32,
    /// Main places in a sitting.
    pub places: usize,
    /// Repeats in a sitting.
    pub repeats: usize,
    /// Places between a token and its repeat, at least.
    pub repeat_distance: usize,
    /// Check places in a sitting and tokens for them.
    pub checks: Supply,
    /// Warm-up places in a sitting and tokens for them.
    pub warm_ups: Supply,
    /// Practice places in a sitting and tokens for them.
    pub practice: Supply,
    /// Who is invited.
    pub listeners: &'a [ListenerPlan],
}

/// Places of one kind in a sitting and the tokens that there are for them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Supply {
    /// Places in a sitting.
    pub places: usize,
    /// Tokens imported for them.
    pub tokens: usize,
}

/// One listener as planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListenerPlan {
    /// Sittings she may do.
    pub sittings: u32,
    /// Children whom she must not hear.
    pub barred: BTreeSet<u32>,
}

/// Why a plan cannot be met, with the value and its bound.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Refusal {
    /// No token at all.
    NoTokens,
    /// A count that must be at least one.
    Nothing {
        /// Which count.
        what: &'static str,
    },
    /// A token can never reach the planned number: everybody hears it once.
    FewListeners {
        /// The child, where bars are the reason.
        child: Option<u32>,
        /// Listeners who may hear it.
        listeners: usize,
        /// Judgements wanted of each token.
        planned: u32,
    },
    /// All sittings together have too few places.
    FewPlaces {
        /// Places in all sittings of all listeners, none hearing a token twice.
        places: u64,
        /// Judgements wanted of all tokens.
        wanted: u64,
    },
    /// A repeat cannot come late enough.
    DistanceTooLong {
        /// The distance wanted.
        distance: usize,
        /// Main and check places of a sitting: the longest distance that it has room for.
        room: usize,
    },
    /// More repeats than main tokens.
    ManyRepeats {
        /// Repeats in a sitting.
        repeats: usize,
        /// Main tokens in a sitting.
        main: usize,
    },
    /// More places for a kind of extra token than tokens.
    FewExtras {
        /// Which kind.
        kind: PresentationKind,
        /// Places in a sitting and tokens for them.
        supply: Supply,
    },
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoTokens => write!(f, "the round has no token to judge; choose at least 1"),
            Self::Nothing { what } => write!(f, "{what} is 0; give at least 1"),
            Self::FewListeners {
                child,
                listeners,
                planned,
            } => {
                let whom = if child.is_some() {
                    "may hear one of the children (the others are barred)"
                } else {
                    "are invited"
                };
                write!(
                    f,
                    "{listeners} listeners {whom}, and each hears a token once, so {planned} \
                     judgements a token cannot be reached; invite more listeners or ask for at \
                     most {listeners}"
                )
            }
            Self::FewPlaces { places, wanted } => write!(
                f,
                "all sittings together have {places} main places that listeners can fill, and \
                 {wanted} judgements are wanted; invite more listeners, allow more sittings, or \
                 make sittings longer"
            ),
            Self::DistanceTooLong { distance, room } => write!(
                f,
                "a repeat is to come {distance} places after its first, and a sitting has room \
                 for at most {room}; shorten the distance or lengthen the sitting"
            ),
            Self::ManyRepeats { repeats, main } => write!(
                f,
                "a sitting is to repeat {repeats} of its {main} main tokens; ask for at most {main}"
            ),
            Self::FewExtras {
                kind,
                supply: Supply { places, tokens },
            } => write!(
                f,
                "a sitting is to play {places} {kind} tokens, and the study has {tokens}; import \
                 more or ask for at most {tokens}"
            ),
        }
    }
}

/// All that makes a plan impossible; empty for one that can be met. Nobody vanishing is assumed:
/// spare listeners are a matter of judgement, not of possibility.
pub fn feasible(design: &RoundDesign) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    if design.tokens.is_empty() {
        refusals.push(Refusal::NoTokens);
    }
    let counts = [
        (
            "the number of judgements a token",
            u64::from(design.planned),
        ),
        (
            "the number of main tokens in a sitting",
            design.places as u64,
        ),
        ("the number of listeners", design.listeners.len() as u64),
    ];
    for (what, _) in counts.into_iter().filter(|(_, count)| *count == 0) {
        refusals.push(Refusal::Nothing { what });
    }
    let extras = [
        (PresentationKind::Check, design.checks),
        (PresentationKind::WarmUp, design.warm_ups),
        (PresentationKind::Practice, design.practice),
    ];
    for (kind, supply) in extras.into_iter().filter(|(_, s)| s.places > s.tokens) {
        refusals.push(Refusal::FewExtras { kind, supply });
    }
    let main = design.places.min(design.tokens.len());
    if design.repeats > main {
        refusals.push(Refusal::ManyRepeats {
            repeats: design.repeats,
            main,
        });
    }
    let room = main + design.checks.places;
    if design.repeats > 0 && design.repeat_distance > room {
        refusals.push(Refusal::DistanceTooLong {
            distance: design.repeat_distance,
            room,
        });
    }
    if refusals.is_empty() {
        refusals.extend(few_listeners(design));
    }
    if refusals.is_empty() {
        refusals.extend(few_places(design));
    }
    refusals
}

/// The first child whom too few listeners may hear.
fn few_listeners(design: &RoundDesign) -> Option<Refusal> {
    let planned = design.planned;
    let invited = design.listeners.iter().filter(|l| l.sittings > 0).count();
    if (invited as u64) < u64::from(planned) {
        return Some(Refusal::FewListeners {
            child: None,
            listeners: invited,
            planned,
        });
    }
    let children: BTreeSet<u32> = design.tokens.iter().map(|token| token.child).collect();
    children.into_iter().find_map(|child| {
        let may_hear = |l: &&ListenerPlan| l.sittings > 0 && !l.barred.contains(&child);
        let listeners = design.listeners.iter().filter(may_hear).count();
        ((listeners as u64) < u64::from(planned)).then_some(Refusal::FewListeners {
            child: Some(child),
            listeners,
            planned,
        })
    })
}

/// Whether the places of all listeners hold all judgements, bars and no token twice included: a
/// largest flow from listeners (their places) through children (a token once each) to the
/// judgements wanted of each child.
fn few_places(design: &RoundDesign) -> Option<Refusal> {
    let mut tokens: BTreeMap<u32, u64> = BTreeMap::new();
    for token in design.tokens {
        *tokens.entry(token.child).or_default() += 1;
    }
    let wanted = design.tokens.len() as u64 * u64::from(design.planned);
    let places = most_judgements(design, &tokens);
    (places < wanted).then_some(Refusal::FewPlaces { places, wanted })
}

fn most_judgements(design: &RoundDesign, tokens: &BTreeMap<u32, u64>) -> u64 {
    // Listeners with the same bars and sittings are one: few classes, many listeners.
    let mut classes: BTreeMap<(u32, &BTreeSet<u32>), u64> = BTreeMap::new();
    for listener in design.listeners {
        *classes
            .entry((listener.sittings, &listener.barred))
            .or_default() += 1;
    }
    let mut flow = Flow::new(2 + classes.len() + tokens.len());
    let (source, sink) = (0, 1);
    for (class, ((sittings, barred), listeners)) in classes.iter().enumerate() {
        let places = u64::from(*sittings) * design.places as u64;
        flow.allow(source, 2 + class, listeners * places);
        for (child, (code, count)) in tokens.iter().enumerate() {
            if !barred.contains(code) {
                flow.allow(2 + class, 2 + classes.len() + child, listeners * count);
            }
        }
    }
    for (child, count) in tokens.values().enumerate() {
        let node = 2 + classes.len() + child;
        flow.allow(node, sink, count * u64::from(design.planned));
    }
    flow.largest(source, sink)
}
