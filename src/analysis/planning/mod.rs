//! What a plan will cost and can show, before it is sealed: sittings, hours, precision, and what its rules do.

mod backwards;
mod basis;
mod linking;
mod screening;

pub use backwards::Proof;
pub use backwards::ProofLine;
pub use backwards::Volunteers;
pub use backwards::proof;
pub use basis::PrecisionBasis;
pub use linking::LinkForecast;
pub use screening::ScreeningForecast;

use crate::stats::precision::Probe;
use crate::stats::special::normal;
use crate::study::Plan;

/// What a word takes a listener, in seconds (ours): the sound, the answer, now and then a replay.
pub const SECONDS_A_WORD: f64 = 6.0;
/// Minutes of a sitting before its first word (ours): consent, questions, sound check, what to judge.
pub const MINUTES_BEFORE: f64 = 4.0;
/// Minutes of a rest (ours).
pub const MINUTES_A_REST: f64 = 1.0;

/// One session that a round is to play, in bare numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlannedSession {
    /// Whose.
    pub child: u32,
    /// Which one of hers.
    pub number: u32,
    /// On which side of the contrast.
    pub side: Side,
    /// Whether she is a peer, of whom no change is computed.
    pub peer: bool,
    /// Its words.
    pub words: u32,
    /// Those of them on which the verdict rests.
    pub compared: u32,
}

/// The words that a round is to play.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedWords {
    /// Its sessions.
    pub sessions: Vec<PlannedSession>,
    /// Words of earlier rounds that are heard again as links: they are judged, and make no session.
    pub links: u32,
    /// Of each unlocked round, oldest first, the words that were first heard in it and are heard again now.
    pub heard_before: Vec<u32>,
}

impl PlannedWords {
    /// Words to judge.
    fn tokens(&self) -> u32 {
        let words = self.sessions.iter().map(|session| session.words);
        words.sum::<u32>() + self.links
    }
}

/// Where a session stands in the contrast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// In the earlier phase.
    Before,
    /// In the later one.
    After,
    /// In neither.
    Beside,
}

/// What a plan will cost and can show.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanForecast {
    /// Children and peers.
    pub children: usize,
    /// Sessions.
    pub sessions: usize,
    /// Words to judge.
    pub tokens: u32,
    /// Judgements wanted in all, repeats and checks left aside.
    pub judgements: u32,
    /// Main words in a sitting.
    pub main: u32,
    /// Words heard again in it.
    pub repeats: u32,
    /// All that is heard in a sitting, practice included.
    pub heard: u32,
    /// Sittings needed.
    pub sittings: u32,
    /// Listeners needed, if nobody drops out.
    pub listeners: u32,
    /// Minutes of one sitting.
    pub minutes: f64,
    /// Hours of listening in all.
    pub hours: f64,
    /// How sure a session's score will be; nothing where the round plays no session.
    pub session: Option<SessionPrecision>,
    /// The smallest and the largest minimal detectable change of a child; nothing where no child has both sides.
    pub mdc95: Option<[f64; 2]>,
    /// Children of whom no change can be computed: one side of the contrast has no session.
    pub without_change: usize,
    /// What the screening rules do.
    pub screening: ScreeningForecast,
    /// Whether the round will stand on one scale with earlier ones; nothing where none is unlocked.
    pub linking: Option<LinkForecast>,
}

/// How sure a session's score will be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SessionPrecision {
    /// Words of a middling session.
    pub words: u32,
    /// Half of its interval's width, at the plan's confidence.
    pub half_width: f64,
}

/// Forecasts what a plan will cost and can show.
///
/// `words`: what it plays. Precision is that of `judgements_per_token` listeners who all hear the whole session: where more
/// of them share a session it is a little better. As [`precision`](super::precision) forecasts it for that panel and probe.
pub fn plan_forecast(plan: &Plan, words: &PlannedWords, basis: &PrecisionBasis) -> PlanForecast {
    let sessions = words.sessions.as_slice();
    let tokens = words.tokens();
    let wanted = plan.listeners.judgements_per_token;
    let judgements = tokens.saturating_mul(wanted);
    let main = plan.sitting.tokens.min(tokens);
    let repeats = count(plan.repeats_among(main as usize));
    let heard = main + repeats + beside(plan);
    let one_hears = main
        .saturating_mul(plan.listeners.sittings)
        .min(tokens)
        .max(1);
    let sittings = judgements.div_ceil(main.max(1)).max(wanted);
    let minutes = minutes_of(plan, heard);
    let design = Panel {
        listeners: f64::from(wanted),
        confidence: plan.analysis.confidence.level(),
    };
    PlanForecast {
        children: children_of(sessions).len(),
        sessions: sessions.len(),
        tokens,
        judgements,
        main,
        repeats,
        heard,
        sittings,
        listeners: judgements.div_ceil(one_hears).max(wanted),
        minutes,
        hours: f64::from(sittings) * minutes / 60.0,
        session: design.session(sessions, basis),
        mdc95: design.changes(sessions, basis),
        without_change: without_change(sessions),
        screening: ScreeningForecast::of(plan, repeats),
        linking: LinkForecast::of(plan, words, basis),
    }
}

/// Words of a sitting that are neither main words nor repeats.
fn beside(plan: &Plan) -> u32 {
    let sitting = &plan.sitting;
    let sounds = count(plan.targets.len().max(1));
    sitting.checks + sitting.warm_up + sitting.practice * sounds
}

fn minutes_of(plan: &Plan, heard: u32) -> f64 {
    let rests = heard.checked_div(plan.rests.every).unwrap_or(0);
    MINUTES_BEFORE + f64::from(heard) * SECONDS_A_WORD / 60.0 + f64::from(rests) * MINUTES_A_REST
}

/// A panel that hears whole sessions.
#[derive(Clone, Copy)]
struct Panel {
    listeners: f64,
    confidence: f64,
}

impl Panel {
    fn session(self, all: &[PlannedSession], basis: &PrecisionBasis) -> Option<SessionPrecision> {
        let own = all.iter().filter(|session| !session.peer);
        let mut words: Vec<u32> = own.map(|session| session.words).collect();
        words.sort_unstable();
        let words = words.get(words.len() / 2).copied()?;
        let then = basis.components.forecast(Probe {
            listeners: self.listeners,
            words: f64::from(words),
            sessions: 1.0,
        });
        Some(SessionPrecision {
            words,
            half_width: normal::two_sided(self.confidence) * then.se,
        })
    }

    /// The smallest and the largest minimal detectable change.
    fn changes(self, all: &[PlannedSession], basis: &PrecisionBasis) -> Option<[f64; 2]> {
        let of_children = children_of(all)
            .into_iter()
            .filter_map(|child| self.change(child, all, basis));
        of_children.fold(None, |found, mdc| match found {
            None => Some([mdc, mdc]),
            Some([least, most]) => Some([f64::min(least, mdc), f64::max(most, mdc)]),
        })
    }

    /// Two phases of a and b sessions are as good as two of 2ab/(a + b) each.
    fn change(self, child: u32, all: &[PlannedSession], basis: &PrecisionBasis) -> Option<f64> {
        let own = |side| {
            all.iter().filter(move |session| {
                session.child == child && !session.peer && is_compared(session, side)
            })
        };
        let n = |side| count(own(side).count());
        let (before, after) = (f64::from(n(Side::Before)), f64::from(n(Side::After)));
        if before == 0.0 || after == 0.0 {
            return None;
        }
        let both = own(Side::Before).chain(own(Side::After));
        let words: u32 = both.map(|session| session.compared).sum();
        let then = basis.components.forecast(Probe {
            listeners: self.listeners,
            words: f64::from(words) / (before + after),
            sessions: 2.0 * before * after / (before + after),
        });
        Some(then.mdc95)
    }
}

fn is_compared(session: &PlannedSession, side: Side) -> bool {
    session.side == side && session.compared > 0
}

fn without_change(all: &[PlannedSession]) -> usize {
    let own: Vec<_> = all
        .iter()
        .filter(|session| !session.peer)
        .copied()
        .collect();
    let lacks = |child: &u32| {
        [Side::Before, Side::After].into_iter().any(|side| {
            !own.iter()
                .any(|session| session.child == *child && is_compared(session, side))
        })
    };
    children_of(&own)
        .iter()
        .filter(|child| lacks(child))
        .count()
}

fn children_of(sessions: &[PlannedSession]) -> std::collections::BTreeSet<u32> {
    sessions.iter().map(|session| session.child).collect()
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}
